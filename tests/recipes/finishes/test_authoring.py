"""Write recipes in the app: given a draft, when a step is added, moved, changed or dropped, then it is kept so."""

from __future__ import annotations

from decimal import Decimal
from html.parser import HTMLParser
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from recipes.finishes.authoring import start_draft
from recipes.models import Finish, RecipeVersion, RemovedStep, Step
from recipes.reading import ANY_DAY, recipe_facts
from tests import builders
from tests.asking import error_beside, tick_beside

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


@pytest.fixture
def draft(shop):
    return start_draft(shop.recipe.finish, came_from=shop.recipe, why="Longer.")


def fresh(version: RecipeVersion) -> RecipeVersion:
    return RecipeVersion.objects.select_related("finish").get(pk=version.pk)


def kinds(version: RecipeVersion) -> list[str]:
    return list(version.steps.order_by("number").values_list("kind", flat=True))


def page(version: RecipeVersion, more: str = "") -> str:
    return f"/finishes/{version.finish.code}/{version.number}/edit/{more}"


def press(client: Any, version: RecipeVersion, do: str, step: Step | None = None, **more: Any) -> Any:
    return client.post(page(version, f"{step.pk}/{do}/" if step else "add-step/"), {
        "saves": fresh(version).saves, **more})


class _Form(HTMLParser):
    """Collects what a browser would send of one form, as it stands."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.form, self.inside, self.sent, self.select, self.text = name, False, {}, "", ""

    def handle_starttag(self, tag, pairs):
        has = dict(pairs)
        if tag == "form":
            self.inside = self.form in (has.get("class") or "").split()
        elif not self.inside:
            return
        elif tag == "input" and has.get("name") and (has.get("type") != "checkbox" or "checked" in has):
            self.sent[has["name"]] = has.get("value", "on" if has.get("type") == "checkbox" else "")
        elif tag == "select":
            self.select = has["name"]
        elif tag == "option" and self.select and ("selected" in has or self.select not in self.sent):
            self.sent[self.select] = has.get("value", "")
        elif tag == "textarea":
            self.text = has["name"]
            self.sent[self.text] = ""

    def handle_data(self, data):
        if self.text:
            self.sent[self.text] += data.removeprefix("\n") if not self.sent[self.text] else data

    def handle_endtag(self, tag):
        self.select = "" if tag == "select" else self.select
        self.text = "" if tag == "textarea" else self.text
        self.inside = self.inside and tag != "form"


def fields_of(html: str, name: str = "step-form") -> dict[str, str]:
    """Return what a browser would send of the open step's form, as it stands."""
    form = _Form(name)
    form.feed(html)
    return form.sent


def test_steps_are_added_moved_duplicated_and_removed(at_owner, draft):
    before = kinds(draft)
    press(at_owner, draft, "add", kind="dry", after="0")
    assert kinds(draft) == ["dry", *before]
    first = draft.steps.get(number=1)
    press(at_owner, draft, "down", first)
    press(at_owner, draft, "place", draft.steps.get(kind="dry"), to="4")
    assert kinds(draft)[3] == "dry"
    silver = draft.steps.get(kind="silver")
    press(at_owner, draft, "duplicate", silver)
    twice = draft.steps.filter(kind="silver").order_by("number")
    assert [version.parts.count() for version in twice] == [2, 2]
    press(at_owner, draft, "up", draft.steps.get(kind="dry"))
    press(at_owner, draft, "remove", twice[1])
    press(at_owner, draft, "remove", draft.steps.get(kind="dry"))
    assert kinds(draft) == before
    assert list(draft.steps.order_by("number").values_list("number", flat=True)) == list(range(1, len(before) + 1))


def test_a_step_saved_as_it_was_opened_is_the_same(at_owner, draft):
    """Whatever a step holds, opening and saving it changes nothing."""
    silver = draft.steps.get(kind="silver")
    silver.coverage_ml_per_m2, silver.overspray_mm = Decimal("318.326823"), Decimal("1.587500")
    silver.dwell_minutes, silver.temperature_low_c = Decimal("0.123456"), Decimal("-3.5")
    silver.instructions = "One.\nTwo."
    silver.save()
    before = Step.objects.filter(pk=silver.pk).values().get()
    parts = list(silver.parts.values("number", "solution_version", "strength", "parts", "mixed_for"))
    sent = fields_of(at_owner.get(page(draft, f"?step={silver.number}")).content.decode())
    answer = at_owner.post(page(draft, f"{silver.pk}/"), sent)
    assert answer.status_code == 302, answer.content.decode()[:3000]
    after = Step.objects.filter(pk=silver.pk).values().get()
    assert {k: v for k, v in after.items() if k != "typed"} == {k: v for k, v in before.items() if k != "typed"}
    assert list(silver.parts.values("number", "solution_version", "strength", "parts", "mixed_for")) == parts


def test_what_was_typed_is_kept_and_shown_again(at_owner, draft, house):
    silver = draft.steps.get(kind="silver")
    sent = fields_of(at_owner.get(page(draft, f"?step={silver.number}")).content.decode())
    sent |= {"step-coverage_ml_per_m2": "8 US fl oz / ft2", "step-dwell_minutes": "30 s", "step-overspray_mm": "2 in",
             "step-overspill_share": "10 %", "step-temperature_low_c": "64 F", "parts-0-strength": "double"}
    at_owner.post(page(draft, f"{silver.pk}/"), sent)
    silver.refresh_from_db()
    assert silver.coverage_ml_per_m2 == Decimal("2546.614583")  # 8 × 318.327 mL/m², NIST SP 811
    assert (silver.dwell_minutes, silver.overspray_mm, silver.overspill_share) == (Decimal("0.5"), Decimal("50.8"), Decimal("0.1"))
    assert silver.parts.get(number=1).strength == 2
    for units in ("us", "metric"):
        house.units = units
        house.save()
        shown = fields_of(at_owner.get(page(draft, f"?step={silver.number}")).content.decode())
        assert shown["step-coverage_ml_per_m2"] == "8 US fl oz / ft2"
        assert shown["parts-0-strength"] == "double"
    assert "8 US fl oz/ft²" not in at_owner.get(page(draft)).content.decode()
    house.units = "us"
    house.save()
    assert "8 US fl oz/ft²" in at_owner.get(page(draft)).content.decode()


@pytest.mark.parametrize(("field", "typed", "sentence"), [
    ("step-dwell_minutes", "5", "needs a unit"), ("step-coverage_ml_per_m2", "1 tbsp", "A tablespoon is 15 mL"),
    ("step-overspray_mm", "1,500 in", "could be 1500 or 1.500"), ("parts-0-strength", "0", "above zero"),
    ("step-rim_width_mm", "10 mm", "Only a rim has a width"), ("step-zone_share", "5 %", "are a share of the face"),
    ("step-coats", "0", "At least 1."), ("parts-0-strength", "strong", "not understood as a number"),
])
def test_a_refusal_stands_beside_its_field_and_nothing_is_half_saved(at_owner, draft, field, typed, sentence):
    silver = draft.steps.get(kind="silver")
    sent = fields_of(at_owner.get(page(draft, f"?step={silver.number}")).content.decode())
    sent |= {"step-instructions": "Changed meanwhile.", field: typed}
    answer = at_owner.post(page(draft, f"{silver.pk}/"), sent)
    shown = answer.content.decode()
    assert answer.status_code == 422
    place = shown.index(f'id="id_{field}_error"')
    assert sentence in shown[place:place + 600]
    assert "Changed meanwhile." in shown
    silver.refresh_from_db()
    assert silver.instructions == ""


def test_a_border_needs_a_spray(at_owner, draft):
    silver = draft.steps.get(kind="silver")
    sent = fields_of(at_owner.get(page(draft, f"?step={silver.number}")).content.decode())
    answer = at_owner.post(page(draft, f"{silver.pk}/"), sent | {"step-how": "pour", "step-overspray_mm": "10 mm"})
    assert "Only a sprayed or misted step" in answer.content.decode()


def test_a_step_says_its_zone_and_whose_dwell_it_is(at_owner, draft):
    silver = draft.steps.get(kind="silver")
    sent = fields_of(at_owner.get(page(draft, f"?step={silver.number}")).content.decode())
    refused = at_owner.post(page(draft, f"{silver.pk}/"), sent | {"step-zone": "rim"}).content.decode()
    assert "Say how wide the rim is." in refused
    sent |= {"step-zone": "rim", "step-rim_width_mm": "30 mm", "step-dwell_counted": "pane", "step-dwell_minutes": "2 min"}
    assert at_owner.post(page(draft, f"{silver.pk}/"), sent).status_code == 302
    silver.refresh_from_db()
    assert (silver.zone, silver.rim_width_mm, silver.dwell_counted) == ("rim", 30, "pane")
    shown = at_owner.get(page(draft)).content.decode()
    assert "Only a rim, 30 mm wide." in shown
    assert "Dwell 2 min for each pane" in shown
    facts = recipe_facts([draft.pk], ANY_DAY)[0][draft.key].steps[silver.number - 1]
    assert (facts.zone, facts.rim_width_mm, facts.all_dwell_minutes(9)) == ("rim", 30, 18)


@pytest.mark.parametrize("values", [
    {"zone": "rim"}, {"zone": "part"}, {"rim_width_mm": 5}, {"zone_share": Decimal("0.5")}, {"dwell_counted": "coat"},
    {"zone": "part", "zone_share": Decimal("1.1")}, {"zone": "rim", "rim_width_mm": 5, "zone_share": Decimal("0.5")},
])
def test_the_database_keeps_a_zone_whole(draft, values):
    with pytest.raises(IntegrityError), transaction.atomic():
        draft.steps.filter(kind="silver").update(**values)


def test_two_people_at_once(at_owner, draft):
    silver = draft.steps.get(kind="silver")
    sent = fields_of(at_owner.get(page(draft, f"?step={silver.number}")).content.decode())
    press(at_owner, draft, "duplicate", silver)
    answer = at_owner.post(page(draft, f"{silver.pk}/"), sent | {"step-instructions": "mine"})
    assert answer.status_code == 422
    assert "in step 3 instructions nothing" in answer.content.decode()
    assert "mine" in answer.content.decode()
    assert not draft.steps.filter(instructions="mine").exists()


def test_the_steps_make_up_is_seen_as_it_is_typed(at_owner, draft, shop):
    """Four panes of 305 × 305 mm at 900 mL/m² take 334.89 mL, half of it silver part: 170 mL, double strength 4.08 g."""
    silver = draft.steps.get(kind="silver")
    sent = fields_of(at_owner.get(page(draft, f"?step={silver.number}")).content.decode())
    answer = at_owner.post(page(draft, f"{silver.pk}/mixes/"), sent | {"parts-0-strength": "double"}, headers=HTMX)
    shown = answer.content.decode()
    assert "167.445 mL" in shown
    assert "4.1 g" in shown  # 4.08 g on a balance of 0.1 g
    silver.refresh_from_db()
    assert silver.parts.get(number=1).strength == 1  # nothing is saved
    strong = sent | {"parts-0-strength": "200"}
    asked = at_owner.post(page(draft, f"{silver.pk}/mixes/"), strong, headers=HTMX).content.decode()
    strong |= tick_beside(asked, "parts-0-strength")
    too_much = at_owner.post(page(draft, f"{silver.pk}/mixes/"), strong, headers=HTMX)
    assert "cannot be mixed at strength 200: the strongest possible is" in too_much.content.decode()


def test_stops_and_cautions_stand_beside_their_step(at_owner, draft):
    press(at_owner, draft, "remove", draft.steps.filter(kind="rinse").order_by("-number").first())
    press(at_owner, draft, "remove", draft.steps.get(kind="inspect"))
    shown = at_owner.get(page(draft)).content.decode()
    seal = shown[shown.index(f'data-step="{draft.steps.get(kind="seal").pk}"'):]
    assert "ammoniacal residue would dry on the pane" in seal
    assert "Ammoniacal silver residue that dries can explode." in seal
    assert "The pane is not inspected" in seal
    assert "cannot be put in use yet" in shown


def test_an_used_or_tried_recipe_is_not_written_on(at_owner, shop, owner):
    in_use = shop.recipe
    answer = at_owner.post(page(in_use, "add-step/"), {"kind": "dry", "after": "0", "saves": in_use.saves})
    assert answer.status_code == 422
    assert "start a new draft from it" in answer.content.decode()
    assert "Add step" not in at_owner.get(page(in_use)).content.decode()


def test_a_new_finish_opens_its_first_draft(at_owner, rates):
    answer = at_owner.post("/finishes/new/", {"name": "Night Reed", "family": "foxed", "swatch_place": "0"})
    finish = Finish.objects.get(name="Night Reed")
    assert answer["Location"] == f"/finishes/{finish.code}/1/edit/"
    for taken in ("trials", "Night Reed", "  "):
        refused = at_owner.post("/finishes/new/", {"name": taken, "swatch_place": "0"})
        assert refused.status_code == 422
    assert Finish.objects.count() == 1


def test_an_unusual_strength_of_a_part_is_asked_once(at_owner, draft):
    silver = draft.steps.get(kind="silver")
    address = page(draft, f"?step={silver.number}")
    sent = fields_of(at_owner.get(address).content.decode()) | {"parts-0-strength": "6"}
    asked = at_owner.post(page(draft, f"{silver.pk}/"), sent)
    assert asked.status_code == 422
    assert "above 5 times" in error_beside(asked.content.decode(), "parts-0-strength")
    assert silver.parts.get(number=1).strength == 1
    tick = tick_beside(asked.content.decode(), "parts-0-strength")
    assert at_owner.post(page(draft, f"{silver.pk}/"), sent | tick).status_code == 302
    assert silver.parts.get(number=1).strength == 6
    saved = fields_of(at_owner.get(address).content.decode())
    assert at_owner.post(page(draft, f"{silver.pk}/"), saved).status_code == 302  # it was meant so


def test_a_removed_step_is_put_back_as_it_was(at_owner, owner, draft):
    """Given a step of two solutions removed by mistake, when it is put back, then it is what and where it was."""
    step = next(row for row in draft.steps.all() if row.parts.exists())
    as_it_was = recipe_facts([draft.pk], ANY_DAY)[0][draft.key]
    names, typed = kinds(draft), step.typed
    press(at_owner, draft, "remove", step)
    shown = at_owner.get(page(draft)).content.decode()
    removed = RemovedStep.objects.get()
    assert (removed.by, removed.number, removed.put_back_at) == (owner, step.number, None)
    assert f"Step {step.number}, " in shown
    assert "was removed by" in shown
    assert len(kinds(draft)) == len(names) - 1
    with pytest.raises(IntegrityError, match="stays as it was"), transaction.atomic():
        RemovedStep.objects.update(content={})
    back = {"saves": fresh(draft).saves}
    shown = at_owner.post(page(draft, f"removed/{removed.pk}/"), back, headers=HTMX).content.decode()
    assert "was removed by" not in shown
    assert kinds(draft) == names
    assert recipe_facts([draft.pk], ANY_DAY)[0][draft.key] == as_it_was
    assert draft.steps.get(number=step.number).typed == typed
    again = at_owner.post(page(draft, f"removed/{removed.pk}/"), {"saves": fresh(draft).saves}, headers=HTMX)
    assert "was put back already" in again.content.decode()
    assert kinds(draft) == names


def test_a_draft_is_removed_but_not_one_that_led_on(at_owner, draft):
    assert "is removed" in at_owner.post(page(draft, "remove/"), {"saves": draft.saves}, follow=True).content.decode()
    assert not RecipeVersion.objects.filter(pk=draft.pk).exists()


def test_an_unpriced_ingredient_keeps_a_recipe_out_of_use_by_name(at_owner, draft, shop):
    bare = builders.material("Starlight powder", list_price=None, none_apply=True)
    part = builders.solution("Starlight", {"material": bare, "amount": 2, "unit": "g"}, {"material": shop.water})
    draft.steps.get(kind="silver").parts.filter(number=2).update(solution_version=part)
    answer = at_owner.post(f"/finishes/{draft.finish.code}/{draft.number}/put-in-use/", {
        "acknowledged": ["silver goes on sensitised glass"]})
    assert answer.status_code == 422
    assert "The cost of Starlight powder is not known" in answer.content.decode()
    assert fresh(draft).state == "draft"


def test_queries_do_not_grow_with_steps(at_owner, draft):
    def count() -> int:
        with CaptureQueriesContext(connection, ) as seen:
            at_owner.get(page(draft, "?step=3"))
        return len(seen)

    count()
    few = count()
    for _ in range(6):
        press(at_owner, draft, "duplicate", draft.steps.filter(kind="silver").first())
    assert count() <= few


def test_a_helper_writes_nothing(at_helper, draft):
    for address in (page(draft), "/finishes/new/", "/finishes/solutions/new/"):
        assert at_helper.get(address).status_code == 403
    assert at_helper.post(page(draft, "add-step/"), {}).status_code == 403
