"""What to wear stands at every step and mix with anything but water in it, whatever is known of it."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from jobs.frozen import freeze, thaw
from jobs.templatetags.bench_words import wear
from jobs.work.ticket_paper import protection_of, ticket_paper
from jobs.work.ticket_plan import TicketStep, step_of
from jobs.work.ticketing import make_ticket, plan_of
from recipes.facts import IngredientFacts, MaterialFacts, PartFacts, Shelf, SolutionFacts, StepFacts
from recipes.models import RecipeVersion
from recipes.reading import ANY_DAY, recipe_facts
from studio.stockroom.hazards.classes import REACTS_AS
from studio.stockroom.hazards.statements import HAZARD_STATEMENTS
from studio.whole.book.load import load_book
from tests import builders
from tests.whole.test_book import FILES, without_jobs


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages)


@pytest.mark.django_db
def test_no_chemical_step_of_the_demo_is_without_a_wear_line():
    demo = without_jobs()
    for finish in demo["finishes"]:
        for version in finish["versions"]:
            version["events"] = []
    load_book(demo, FILES)
    recipes, shelf = recipe_facts(RecipeVersion.objects.values_list("pk", flat=True), ANY_DAY)
    chemical = [step_of(step, shelf, {}) for recipe in recipes.values() for step in recipe.steps if step.parts]
    assert len(chemical) > 50
    assert [step.name for step in chemical if "gloves" not in wear(step)] == []
    silver = next(step for step in chemical if "ammonia" in step.agents)
    assert "goggles and face shield" in wear(silver)  # H314
    assert "breathing protection as chosen for this studio" in wear(silver)  # H335


material_facts = st.builds(
    MaterialFacts, key=st.sampled_from(["a", "b", "c", "d"]), name=st.just("thing"), stock_unit=st.just("g"),
    reacts_as=st.frozensets(st.sampled_from(sorted(REACTS_AS)), max_size=3), unclassed=st.booleans(),
    statements=st.frozensets(st.sampled_from(sorted(HAZARD_STATEMENTS)), max_size=3), only_water=st.booleans(),
)


@given(st.lists(material_facts, min_size=1, max_size=4, unique_by=lambda facts: facts.key), st.sampled_from(["", "pour", "spray"]))
def test_no_chemical_step_of_any_recipe_is_without_a_wear_line(materials, how):
    solution = SolutionFacts(key="s", name="s", ingredients=tuple(
        IngredientFacts(number=at, material=facts.key, amount_per_litre=Fraction(1), unit="g") for at, facts in enumerate(materials, 1)))
    outer = SolutionFacts(key="outer", name="outer", ingredients=(IngredientFacts(number=1, solution="s", make_up=True),))
    shelf = Shelf(materials={facts.key: facts for facts in materials}, solutions={"s": solution, "outer": outer})
    step = StepFacts(number=1, kind="sensitise", how=how, parts=(PartFacts(solution="outer"),))
    words = wear(step_of(step, shelf, {}))
    if any(facts.unclassed for facts in materials):
        assert "unknown: goggles, gloves, apron, extraction until its data sheet is read" in words
    elif not all(facts.only_water for facts in materials):
        assert "gloves" in words
        assert "goggles" in words
    wetter = wear(step_of(StepFacts(number=1, kind="rinse", rinse_full=True), shelf, {}))
    assert wetter == ""


def test_a_ticket_printed_before_statements_were_kept_is_read_and_still_says_what_to_wear():
    frozen = freeze(step_of(
        StepFacts(number=1, kind="clean", parts=(PartFacts(solution="s"),)),
        Shelf(materials={"soap": MaterialFacts(key="soap", name="soap", stock_unit="g")},
              solutions={"s": SolutionFacts(key="s", name="s", ingredients=(IngredientFacts(number=1, material="soap"),))}), {}))
    del frozen["statements"], frozen["chemical"]
    step = thaw(frozen, TicketStep)
    assert step.statements == []
    assert wear(step) == "nitrile gloves, goggles"


@pytest.mark.django_db
def test_the_ticket_prints_wear_first_aid_and_who_comes_first(owner, rates):
    workshop = builders.Workshop(owner)
    workshop.silver.hazard_statements = ["H272", "H314", "H410"]
    workshop.silver.save()
    ticket = make_ticket(job=workshop.booked(), by=owner)
    plan = plan_of(ticket)
    assert any("H314" in mix.statements for mix in plan.mixes)
    assert "goggles and face shield" in protection_of(plan)
    printed = text_of(ticket_paper(ticket))
    for line in ("Eyes:", "Caustic on skin:", "Acid on skin:", "Silver on skin:", "Ammonia breathed:", "Broken glass:", "Fluoride:",
                 "The supplier's safety data sheets, local codes and licensed practice come first."):
        assert line in printed.replace("’", "'")
    assert "calcium gluconate gel at the bench" not in printed  # its page only where there is fluoride


@pytest.mark.django_db
def test_a_ticket_with_fluoride_has_its_page_of_first_aid(owner, rates):
    workshop = builders.Workshop(owner)
    etch = builders.material("Etching cream", reacts_as=["fluoride"])
    cream = builders.solution("Etch", {"material": etch, "amount": 5, "unit": "g"}, {"material": workshop.water})
    builders.lot(etch, "500", owner, "E1")
    *steps, seal = workshop.steps()
    workshop.recipe = builders.put_version_in_use(builders.recipe("Etched", [
        *steps, {"kind": "antique", "how": "brush", "hands": "owner", "coverage_ml_per_m2": Decimal(100),
                 "dwell_minutes": Decimal(1), "parts": [{"solution_version": cream, "mixed_for": "load"}]},
        {"kind": "rinse", "rinse_full": True, "rinse_water": "distilled"}, {"kind": "inspect"}, seal]), owner)
    printed = text_of(ticket_paper(make_ticket(job=workshop.booked(), by=owner)))
    assert "Fluoride: first aid" in printed
    assert "never alone" in printed
    assert "calcium gluconate gel on hand" in printed
