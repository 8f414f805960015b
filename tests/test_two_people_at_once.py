"""Two people open one record: who saves second over the other's change is told, with both shown, and nothing is lost."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from jobs.models import Customer, Job, Order, SiteRecord, SwatchBook
from jobs.quotes.quoting import decide, save_quote
from recipes.finishes.authoring import start_draft
from recipes.models import Finish, RecipeVersion, SolutionVersion, Step, Trial
from studio.house.clock import today
from studio.house.models import House
from studio.stockroom.models import Lot, Material, WasteContainer
from studio.stockroom.waste.containers import hand_over, put_in
from tests import builders
from tests.jobs.orders.test_order_page import typed as typed_order
from tests.recipes.finishes.test_authoring import fields_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def version_on(page: str) -> str:
    return page.split('name="saves" value="')[1].split('"')[0]


ANOTHER, MYSELF = "Somebody else changed this meanwhile", "You changed this in another window"


@pytest.fixture
def at_partner(db):
    """The browser of another owner."""
    browser = Client()
    browser.force_login(builders.person("nell", "owner"))
    return browser


def told(answer, theirs: str, mine: str, who: str = MYSELF) -> None:
    shown = answer.content.decode()
    assert answer.status_code == 422
    assert who in shown
    assert theirs in shown
    assert mine in shown


@dataclass(frozen=True, kw_only=True)
class Door:
    """A form that two people have open: its page, what one sends and then the other, and how the record reads.

    theirs, mine: what each sends beside `sent`. reads: how the page tells what the first saved. kept: what the record
    holds of what was sent, at the end. wrong: what the form itself refuses. again: what a second press is told to do.
    """

    page: str
    to: str = ""
    sent: dict[str, Any] = field(default_factory=dict)
    theirs: dict[str, Any]
    mine: dict[str, Any]
    reads: str
    shown: str
    kept: Callable[[], object]
    theirs_kept: object
    mine_kept: object
    wrong: dict[str, Any]
    again: str = "Save again to replace it."

    @property
    def address(self) -> str:
        return self.page + self.to


def a_customer(shop: builders.Workshop, client: Any) -> Door:
    row = Customer.objects.create(name="Ida Moss", email="ida@example.com")
    return Door(
        page=f"/jobs/customers/{row.pk}/", sent={"name": "Ida Moss", "email": "ida@example.com"}, theirs={"phone": "0100 1"}, mine={"phone": "0100 2"},
        reads="Ida Moss now reads phone “0100 1”", shown="0100 2",
        kept=lambda: Customer.objects.get(pk=row.pk).phone, theirs_kept="0100 1", mine_kept="0100 2",
        wrong={"phone": "0100 2", "email": "no address"},
    )


def the_settings(shop: builders.Workshop, client: Any) -> Door:
    return Door(
        page="/studio/papers/", sent={"paper": "A4", "units": "metric"}, theirs={"terms": "Thirty days."}, mine={"terms": "Ten days."},
        reads=f"{House.objects.get()} now reads terms “Thirty days.”", shown="Ten days.",
        kept=lambda: House.objects.get().terms, theirs_kept="Thirty days.", mine_kept="Ten days.",
        wrong={"terms": "Ten days.", "paper": "A9"},
    )


def the_swatch_book(shop: builders.Workshop, client: Any) -> Door:
    return Door(
        page="/swatch-book/", sent={"small_size_text": "600 x 900 mm", "large_size_text": "1 x 2 m"},
        theirs={"foreword": "Theirs."}, mine={"foreword": "Mine."}, reads="now reads “Theirs.”, panes", shown="Mine.",
        kept=lambda: SwatchBook.objects.get().foreword, theirs_kept="Theirs.", mine_kept="Mine.",
        wrong={"foreword": "Mine.", "small_size_text": "huge"},
    )


def a_material(shop: builders.Workshop, client: Any) -> Door:
    sent = {"name": "Dextrose", "kind": "chemical", "stock_unit": "g", "reacts_as": ["reducer"]}
    return Door(
        page=f"/stockroom/{shop.sugar.code}/edit/", sent=sent, theirs={"storage_place": "shelf 1"},
        mine={"storage_place": "shelf 2"}, reads="Dextrose now reads storage place “shelf 1”", shown="shelf 2",
        kept=lambda: Material.objects.get(pk=shop.sugar.pk).storage_place, theirs_kept="shelf 1", mine_kept="shelf 2",
        wrong={"storage_place": "shelf 2", "list_price": "dear"},
    )


def a_finish(shop: builders.Workshop, client: Any) -> Door:
    finish = shop.recipe.finish
    return Door(
        page=f"/finishes/{finish.code}/edit/", sent={"name": finish.name, "swatch_place": "0"},
        theirs={"family": "bright"}, mine={"family": "plain"}, reads="Plain silver now reads family “bright”",
        shown="plain", kept=lambda: Finish.objects.get(pk=finish.pk).family, theirs_kept="bright", mine_kept="plain",
        wrong={"family": "plain", "lead_time_days": "soon"},
    )


def a_site_record(shop: builders.Workshop, client: Any) -> Door:
    page = f"/jobs/{shop.order().job.number}/site/1/"
    sent = dict.fromkeys(("width_low_mm", "width_middle_mm", "width_high_mm", "height_left_mm", "height_middle_mm",
                          "height_right_mm"), "700") | {"measured_by": "Ada", "measured_on": "2026-03-02"}
    return Door(
        page=page, sent=sent, theirs={"width_low_mm": "701"}, mine={"width_low_mm": "69 cm"},
        reads="Site record of line 1 now reads width low 701 mm", shown="69 cm",
        kept=lambda: SiteRecord.objects.get().width_low_mm, theirs_kept=701, mine_kept=690,
        wrong={"width_low_mm": "wide"},
    )


def a_site_record_measured_before(shop: builders.Workshop, client: Any) -> Door:
    door = a_site_record(shop, client)
    assert client.post(door.page, door.sent).status_code == 302
    return door


def an_order(shop: builders.Workshop, client: Any) -> Door:
    order = shop.order()
    return Door(
        page=f"/jobs/{order.job.number}/order/", sent=typed_order(shop, {}, customer=order.customer_id, key=order.form_key),
        theirs={"note": "by van"}, mine={"note": "by cart"}, shown="by cart",
        reads="now reads note “by van”.",
        kept=lambda: Order.objects.get().note, theirs_kept="by van", mine_kept="by cart",
        wrong={"note": "by cart", "due_on": "soon"},
    )


def a_solution(shop: builders.Workshop, client: Any) -> Door:
    version = builders.solution("Tin wash", {"material": shop.sugar, "amount": 9, "unit": "g"}, {"material": shop.water})
    page = f"/finishes/solutions/{version.solution.code}/1/edit/"
    return Door(
        page=page, sent=fields_of(client.get(page).content.decode(), "sheet-and-price"),
        theirs={"solution-reject_if": "cloudy"}, mine={"solution-reject_if": "brown"}, shown="brown",
        reads="Tin wash, version 1 now reads reject if “cloudy”; it is made of 1 Dextrose, 9 g/L, 2 Distilled water, made up",
        kept=lambda: SolutionVersion.objects.get(pk=version.pk).reject_if, theirs_kept="cloudy", mine_kept="brown",
        wrong={"solution-reject_if": "brown", "solution-keeps_minutes": "long"},
    )


def a_drafts_step(shop: builders.Workshop, client: Any) -> Door:
    draft = start_draft(shop.recipe.finish, came_from=shop.recipe, why="Longer.")
    silver, page = draft.steps.get(kind="silver"), f"/finishes/{draft.finish.code}/{draft.number}/edit/"
    return Door(
        page=page, to=f"{silver.pk}/", sent=fields_of(client.get(f"{page}?step=3").content.decode()),
        theirs={"step-instructions": "Slowly."}, mine={"step-instructions": "Fast."}, shown="Fast.",
        reads="7 seal; in step 3 instructions “Slowly.”",
        kept=lambda: Step.objects.get(pk=silver.pk).instructions, theirs_kept="Slowly.", mine_kept="Fast.",
        wrong={"step-instructions": "Fast.", "step-coats": "many"},
    )


def a_draft(shop: builders.Workshop, client: Any) -> Door:
    draft = start_draft(shop.recipe.finish, came_from=shop.recipe, why="Longer.")
    return Door(
        page=f"/finishes/{draft.finish.code}/{draft.number}/edit/", to="version/", sent={"film_nm": "70"},
        theirs={"why": "Thicker."}, mine={"why": "Thinner."}, shown="Thinner.",
        reads="Plain silver, version 2 now reads why “Thicker.”",
        kept=lambda: RecipeVersion.objects.get(pk=draft.pk).why, theirs_kept="Thicker.", mine_kept="Thinner.",
        wrong={"why": "Thinner.", "film_nm": "thin"},
    )


def a_trial(shop: builders.Workshop, client: Any) -> Door:
    trial = builders.trial(shop.recipe, shop.owner)
    page = f"/finishes/trials/{trial.number}/change/"
    return Door(
        page=page, sent=fields_of(client.get(page).content.decode(), "try"), theirs={"question": "Even?"},
        mine={"question": "Bright?"}, reads="Trial 1 now reads question “Even?”; nothing changed", shown="Bright?",
        kept=lambda: Trial.objects.get().question, theirs_kept="Even?", mine_kept="Bright?",
        wrong={"question": "Bright?", "size_text": "small"},
    )


def a_trials_conditions(shop: builders.Workshop, client: Any) -> Door:
    trial = builders.trial(shop.recipe, shop.owner)
    return Door(
        page=f"/finishes/trials/{trial.number}/", to="conditions/", theirs={"water": "old drum"}, mine={"water": "new drum"},
        reads="Trial 1 now reads water “old drum”", shown="new drum",
        kept=lambda: Trial.objects.get().water, theirs_kept="old drum", mine_kept="new drum",
        wrong={"water": "new drum", "humidity_share": "155 %"},
    )


def a_waste_container_that_came_back(shop: builders.Workshop, client: Any) -> Door:
    row = WasteContainer.objects.create(name="S-1", meant_for="rinse", opened_on=today())
    hand_over(row, on=today(), to="Ebb Refiners")
    return Door(
        page=f"/stockroom/waste/{row.pk}/", to="came-back/", sent={"returned_on": today().isoformat()},
        theirs={"grams": "2.2"}, mine={"grams": "3.3"}, reads="2.2 g of silver came back", shown="3.3",
        kept=lambda: WasteContainer.objects.get().returned_silver_g, theirs_kept=builders.Decimal("2.2"),
        mine_kept=builders.Decimal("3.3"), wrong={"grams": "much"},
    )


DOORS: list[Callable[[builders.Workshop, Any], Door]] = [
    a_customer, the_settings, the_swatch_book, a_material, a_finish, a_site_record, a_site_record_measured_before, an_order,
    a_solution, a_drafts_step, a_draft, a_trial, a_trials_conditions, a_waste_container_that_came_back,
]


def opened_at(client: Any, page: str) -> dict[str, str]:
    """Return the count of saves that a page's form carries."""
    return {"saves": version_on(client.get(page).content.decode())}


@pytest.mark.parametrize("door", DOORS, ids=lambda door: door.__name__)
def test_what_somebody_else_saved_is_shown_and_a_second_press_replaces_it(at_owner, at_partner, shop, door):
    at = door(shop, at_owner)
    sent = at.sent | opened_at(at_owner, at.page)
    assert at_partner.post(at.address, sent | at.theirs).status_code == 302
    late = at_owner.post(at.address, sent | at.mine)
    told(late, at.reads, at.shown, ANOTHER)
    assert at.again in late.content.decode()
    assert at.kept() == at.theirs_kept
    again = sent | at.mine | {"saves": version_on(late.content.decode())}
    assert at_owner.post(at.address, again).status_code == 302
    assert at.kept() == at.mine_kept


@pytest.mark.parametrize("door", DOORS, ids=lambda door: door.__name__)
def test_a_form_refused_for_another_reason_replaces_nothing_unseen(at_owner, shop, door):
    """Something typed wrongly comes back to be corrected: what somebody else saved was not shown, so it is not replaced."""
    at = door(shop, at_owner)
    sent = at.sent | opened_at(at_owner, at.page)
    assert at_owner.post(at.address, sent | at.theirs).status_code == 302
    refused = at_owner.post(at.address, sent | at.wrong)
    assert refused.status_code == 422
    assert "Somebody else changed this" not in refused.content.decode()
    corrected = sent | at.mine | {"saves": version_on(refused.content.decode())}
    told(at_owner.post(at.address, corrected), at.reads, at.shown, MYSELF)
    assert at.kept() == at.theirs_kept


def test_a_line_that_somebody_else_changed_is_shown_to_who_typed_a_note(at_owner, shop):
    """A changes the glass, B a note: B is told of the glass before a second press puts the old one back."""
    other = builders.glass("Clear 6 mm", thickness_mm=builders.Decimal(6))
    order = shop.order()
    page = f"/jobs/{order.job.number}/order/"
    sent = typed_order(shop, {}, customer=order.customer_id, key=order.form_key) | opened_at(at_owner, page)
    assert at_owner.post(page, sent | {"lines-0-glass": other.pk}).status_code == 302
    told(at_owner.post(page, sent | {"note": "by cart"}), "glass “Clear 6 mm”", "by cart")


def test_a_step_that_somebody_else_moved_or_removed(at_owner, shop):
    draft = start_draft(shop.recipe.finish, came_from=shop.recipe, why="Longer.")
    silver, page = draft.steps.get(kind="silver"), f"/finishes/{draft.finish.code}/{draft.number}/edit/"
    sent = fields_of(at_owner.get(f"{page}?step=3").content.decode()) | opened_at(at_owner, page)
    typed = sent | {"step-instructions": "From the top edge."}
    assert at_owner.post(f"{page}{silver.pk}/up/", opened_at(at_owner, page)).status_code == 302
    told(at_owner.post(f"{page}{silver.pk}/", typed), "1 clean, 2 silver, 3 rinse", "From the top edge.")
    assert at_owner.post(f"{page}{silver.pk}/remove/", opened_at(at_owner, page)).status_code == 302
    late = at_owner.post(f"{page}{silver.pk}/", typed)
    assert late.status_code == 422
    assert "Somebody else removed this step meanwhile. Nothing was saved. You typed: " in late.content.decode()
    assert "From the top edge." in late.content.decode()


def test_a_customer_is_the_owners_alone(at_helper, shop):
    row = Customer.objects.create(name="Ida Moss", email="ida@example.com")
    assert at_helper.get(f"/jobs/customers/{row.pk}/").status_code == 403


def test_the_swatch_book(at_owner, shop):
    opened = version_on(at_owner.get("/swatch-book/").content.decode())
    sent = {"small_size_text": "600 x 900 mm", "large_size_text": "1 x 2 m", "saves": opened}
    assert at_owner.post("/swatch-book/", sent | {"foreword": "Theirs.", "finishes": [shop.recipe.finish.pk]}).status_code == 302
    told(at_owner.post("/swatch-book/", sent | {"foreword": "Mine."}), "Theirs.", "Mine.")
    shop.recipe.finish.refresh_from_db()
    assert shop.recipe.finish.in_swatch_book
    assert SwatchBook.objects.get().foreword == "Theirs."


def test_a_job_is_booked_once(at_owner, shop, owner):
    order = shop.order()
    decide(quote=save_quote(order=order, by=owner, form_key=builders.key()), accepted=True)
    address = f"/jobs/{order.job.number}/"
    opened = version_on(at_owner.get(address).content.decode())
    day, other = today() + timedelta(days=20), today() + timedelta(days=40)
    sent = {"sample_approved": "on", "saves": opened}
    for _ in range(2):  # sent twice it is booked once
        theirs = sent | {"waived_because": "old friend", "due_on": day.isoformat()}
        assert at_owner.post(f"{address}book/", theirs).status_code == 302
    mine = sent | {"waived_because": "it is urgent", "due_on": other.isoformat()}
    told(at_owner.post(f"{address}book/", mine), "old friend", f"You asked for: due {other:%d %b %Y}, going ahead because “it is urgent”")
    late = at_owner.post(f"{address}cancel/", {"saves": opened})
    told(late, "booked", "Cancel the job")
    job = Job.objects.get()
    assert (job.state, job.due_on) == (Job.State.BOOKED, day)
    assert "Cancel it again to cancel it as it is now." in late.content.decode()
    assert at_owner.post(f"{address}cancel/", {"saves": version_on(late.content.decode())}).status_code == 302
    assert Job.objects.get().state == Job.State.CANCELLED


def test_a_lot(at_owner, at_helper, shop):
    """The helper saw it held for its label; meanwhile the owner released it and held it again for its smell."""
    address = f"/stockroom/lots/{shop.silver_lot.pk}/"

    def send(client, act: str, why: str, saves: str):
        return client.post(f"{address}{act}/", {"why": why, "saves": saves, "key": builders.key()})

    assert send(at_helper, "hold", "label torn", version_on(at_helper.get(address).content.decode())).status_code == 302
    opened = version_on(at_helper.get(address).content.decode())
    assert send(at_owner, "release", "relabelled", opened).status_code == 302
    assert send(at_owner, "hold", "it smells", version_on(at_owner.get(address).content.decode())).status_code == 302
    late = send(at_helper, "release", "I wrote a new label", opened)
    told(late, "it smells", "I wrote a new label", ANOTHER)
    assert "Send it again to release it all the same." in late.content.decode()
    lot = Lot.objects.get(pk=shop.silver_lot.pk)
    assert (lot.state, lot.hold_reason) == (Lot.State.HELD, "it smells")
    opening = at_helper.post(f"{address}open/", {"saves": opened, "key": builders.key()})
    told(opening, "it smells", "not opened", ANOTHER)
    knowingly = version_on(late.content.decode())
    assert send(at_helper, "release", "I wrote a new label", knowingly).status_code == 302
    assert Lot.objects.get(pk=shop.silver_lot.pk).state == Lot.State.USABLE


def test_a_waste_container(at_owner, shop, owner):
    row = WasteContainer.objects.create(name="S-1", meant_for="rinse", opened_on=today())
    address = f"/stockroom/waste/{row.pk}/"
    opened = version_on(at_owner.get(address).content.decode())
    put_in(key=builders.key(), container=row, by=owner, what="rinse", agents=["water"], volume_ml=builders.Decimal(1500))
    handing = {"handed_on": today().isoformat(), "handed_to": "Ebb Refiners", "saves": opened}
    late = at_owner.post(f"{address}hand-over/", handing)
    told(late, "1500 mL", "Ebb Refiners", ANOTHER)
    handing["saves"] = version_on(late.content.decode())
    assert at_owner.post(f"{address}hand-over/", handing).status_code == 302
    opened = version_on(at_owner.get(address).content.decode())
    back = {"returned_on": today().isoformat(), "saves": opened}
    assert at_owner.post(f"{address}came-back/", back | {"grams": "2.2"}).status_code == 302
    told(at_owner.post(f"{address}came-back/", back | {"grams": "3.3"}), "2.2 g", "3.3")
    row.refresh_from_db()
    assert row.returned_silver_g == builders.Decimal("2.2")


def test_a_trial_is_closed_as_it_is_now_at_the_second_press(at_owner, at_helper, shop):
    trial = builders.nothing_mixed(builders.trial(shop.recipe, shop.owner), shop.owner)
    here = f"/finishes/trials/{trial.number}/"
    opened = version_on(at_owner.get(here).content.decode())
    assert at_helper.post(f"{here}conditions/", {"water": "old drum", "saves": opened}).status_code == 302
    closing = {"verdict": "liked", "score": "8", "kept_where": "box 4", "saves": opened}
    late = at_owner.post(f"{here}close/", closing)
    told(late, "Trial 1 now reads water “old drum”; nothing changed", "box 4", ANOTHER)
    assert "Close it again to close it as it is now." in late.content.decode()
    closing["saves"] = version_on(late.content.decode())
    assert at_owner.post(f"{here}close/", closing).status_code == 302
    assert Trial.objects.get().verdict == "liked"


def test_a_drafts_steps_are_arranged_as_they_are_now_at_the_second_press(at_owner, shop):
    draft = start_draft(shop.recipe.finish, came_from=shop.recipe, why="Longer.")
    page = f"/finishes/{draft.finish.code}/{draft.number}/edit/"
    opened = version_on(at_owner.get(page).content.decode())
    add = {"kind": "dry", "after": "0", "saves": opened}
    assert at_owner.post(f"{page}add-step/", add).status_code == 302
    late = at_owner.post(f"{page}add-step/", add)
    told(late, "Plain silver, version 2 now reads 1 dry, 2 clean", "Do it again to change it as it is now.")
    add["saves"] = version_on(late.content.decode())
    assert at_owner.post(f"{page}add-step/", add).status_code == 302
    assert draft.steps.filter(kind="dry").count() == 2


def test_steps_arranged_one_after_another_on_a_page_that_swaps_only_its_steps(at_owner, shop):
    draft = start_draft(shop.recipe.finish, came_from=shop.recipe, why="Longer.")
    page, live = f"/finishes/{draft.finish.code}/{draft.number}/edit/", {"HX-Request": "true"}
    saves = version_on(at_owner.get(page).content.decode())
    for _ in range(2):
        answer = at_owner.post(f"{page}add-step/", {"kind": "dry", "after": "0", "saves": saves}, headers=live)
        assert answer.status_code == 200
        saves = version_on(answer.content.decode())
    assert draft.steps.filter(kind="dry").count() == 2


def test_a_finish_taken_into_the_swatch_book_meanwhile_is_not_taken_out_unseen(at_owner, shop):
    finish = shop.recipe.finish
    page = f"/finishes/{finish.code}/edit/"
    sent = {"name": finish.name, "swatch_place": "0", "family": "bright"} | opened_at(at_owner, page)
    book = {"small_size_text": "600 x 900 mm", "large_size_text": "1 x 2 m"} | opened_at(at_owner, "/swatch-book/")
    assert at_owner.post("/swatch-book/", book | {"finishes": [finish.pk]}).status_code == 302
    told(at_owner.post(page, sent), "in swatch book yes", "bright", ANOTHER)
    assert Finish.objects.get(pk=finish.pk).in_swatch_book
