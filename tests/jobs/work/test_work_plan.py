"""The work plan: read from top to bottom, nobody meets a step before its mix, and no mix is lost or met twice."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.estimating.estimate import estimate_basis
from jobs.work.ticket_plan import plan_ticket
from jobs.work.work_plan import MixCard, StepCard, WorkPlan, work_plan
from recipes.facts import IngredientFacts, MaterialFacts, PartFacts, RecipeFacts, Shelf, SolutionFacts, StepFacts
from recipes.finishes.hand_order import letter, mixed_before
from recipes.finishes.pouring import as_poured_ml
from tests.jobs.estimating.test_worked_cases import _by_hand

DAY = date(2026, 1, 1)
WATER = MaterialFacts(key="water", name="water", stock_unit="mL", liquid=True, unit_cost=Fraction(0))
SALT = MaterialFacts(key="salt", name="salt", stock_unit="g", unit_cost=Fraction(0))


def solution(
    key: str, *, inside: tuple[str, ...] = (), keeps: bool = True, at_once: bool = False, works: int | None = None,
) -> SolutionFacts:
    nested = tuple(
        IngredientFacts(number=at, solution=name, amount_per_litre=Fraction(100), unit="mL")
        for at, name in enumerate(inside, start=1)
    )
    rest = (
        IngredientFacts(number=len(nested) + 1, material="salt", amount_per_litre=Fraction(5), unit="g",
                        scales_with_strength=True),
        IngredientFacts(number=len(nested) + 2, material="water", make_up=True),
    )
    return SolutionFacts(key=key, name=key, keeps_minutes=Fraction(600) if keeps else None, works_at_once=at_once,
                         working_minutes=None if works is None else Fraction(works), ingredients=nested + rest)


SOLUTIONS = {made.key: made for made in (
    solution("stock", works=100), solution("wash", inside=("stock",)), solution("fresh", keeps=False),
    solution("shared", inside=("fresh", "stock"), keeps=False, works=60),
    solution("silver", inside=("fresh", "shared", "stock"), keeps=False),
    solution("pour", inside=("silver",), keeps=False, at_once=True),
)}
PURPOSES = {"stock": ("job", "load", "loads", "pane"), "shared": ("load", "loads", "pane"), "wash": ("job", "load", "pane"), "fresh": ("load", "pane"),
            "silver": ("load", "pane"), "pour": ("pane",)}


@st.composite
def steps(draw: st.DrawFn) -> tuple[StepFacts, ...]:
    found = []
    for number in range(1, draw(st.integers(2, 9)) + 1):
        kind = draw(st.sampled_from(["clean", "rinse", "sensitise", "silver", "dry", "antique", "inspect", "make safe"]))
        parts = draw(st.lists(st.sampled_from(sorted(SOLUTIONS)), max_size=2)) if kind not in ("dry", "inspect") else []
        found.append(StepFacts(
            number=number, kind=kind, coverage_ml_per_m2=Fraction(300) if parts else Fraction(0),
            loss_per_load_ml=Fraction(draw(st.integers(0, 40))) if parts else Fraction(0), how="pour" if parts else "",
            drying="air" if kind == "dry" else "", dwell_minutes=Fraction(draw(st.integers(0, 3))),
            parts=tuple(PartFacts(solution=name, mixed_for=draw(st.sampled_from(PURPOSES[name])),
                                  strength=Fraction(draw(st.sampled_from([1, 2])))) for name in parts),
        ))
    return tuple(found)


def planned(recipe_steps: tuple[StepFacts, ...], minutes: int = 0, panes: int = 5) -> WorkPlan:
    """Plan five panes of 305 × 305 mm, so many of them a load."""
    basis = _by_hand()
    bench = Fraction("0.7") if panes == 5 else panes * Fraction("0.094") / Fraction("0.7")
    basis = replace(
        basis, shelf=Shelf(materials={"water": WATER, "salt": SALT}, solutions=SOLUTIONS),
        recipes={"r": RecipeFacts(key="r", finish="finish", steps=recipe_steps)},
        house=replace(basis.house, mixing_minutes_per_batch=Fraction(minutes), bench_usable_share=bench),
    )
    ticket = plan_ticket(estimate_basis(basis), {}, DAY)
    plan = work_plan(ticket)
    mixed = [making.key for card in plan.cards if isinstance(card, MixCard) for making in card.makings]
    assert sorted(mixed) == sorted(mix.key for mix in ticket.mixes)
    done = [(load.load.number, card.step.number) for load in plan.loads for card in load.steps]
    assert done == [(load.number, step.number) for recipe in ticket.recipes for load in recipe.loads
                    for step in recipe.steps]
    return plan


@settings(max_examples=60, deadline=None)
@given(steps(), st.integers(0, 2), st.sampled_from([1, 2, 5]))
def test_nobody_meets_a_step_before_its_mix(recipe_steps, minutes, panes):
    plan = planned(recipe_steps, minutes, panes)
    job_letters = {card.letter for card in plan.whole_job}
    earlier: list[MixCard] = []
    left: dict[str, int] = {}
    for load in plan.loads:
        assert list(load.carried) == [card for card in earlier if load.load.number in card.mix.shared_ml]
        assert all(card.mix.load < load.load.number for card in load.carried)
        ready: dict[str, MixCard] = {card.letter: card for card in [*plan.whole_job, *load.carried]}
        assert len(ready) == len(plan.whole_job) + len(load.carried)
        made: set[str] = {making.solution_key for card in ready.values() for making in card.makings}
        earlier += [card for card in load.mixes if card.mix.shared_ml]
        for card in load.cards:
            if isinstance(card, MixCard):
                assert card.letter not in ready
                assert all(row.code or row.solution_key in made for row in card.mix.ingredients)
                for own, since in card.sources.values():
                    assert own in ready
                    assert since == (ready[own].mix.load if ready[own] in load.carried else None)
                ready[card.letter] = card
                made.add(card.mix.solution_key)
                continue
            for poured in card.poured:
                if poured.load_ml == 0:
                    continue
                assert poured.letter in ready
                assert (poured.letter in job_letters) == (poured.part.mixed_for == "job")
                assert ready[poured.letter].mix.solution_key == poured.part.solution_key
                assert (poured.mixed_with is not None) == (ready[poured.letter] in load.carried)
                if poured.left_ml is not None:
                    mix = ready[poured.letter].mix
                    assert poured.left_ml >= 0
                    assert load.load.number == mix.last_load
                    left[mix.key] = left.get(mix.key, 0) + 1
                    of_loads = [other for each in plan.loads if mix.serves(each.load.number) for step in each.steps
                                for other in step.poured if other.mix and other.mix.mix.key == mix.key]
                    assert sum(sum(other.pane_ml.values()) for other in of_loads) + poured.left_ml == (
                        ready[poured.letter].made_ml)
    assert all(times == 1 for times in left.values())


@settings(max_examples=60, deadline=None)
@given(steps())
def test_wet_glass_never_waits_for_a_balance(recipe_steps):
    """Once a load may wait, what comes next is mixed then; making safe belongs to what stood before it."""
    for at, before in enumerate(mixed_before(recipe_steps)):
        assert before <= at
        if recipe_steps[at].kind != "make safe":
            assert not any(step.drying or step.kind == "inspect" for step in recipe_steps[before:at])


def test_what_is_for_a_dry_pane_is_mixed_right_before_it():
    clean, silver, rinse, dry, tone = (
        StepFacts(number=1, kind="clean"), StepFacts(number=2, kind="silver", dwell_minutes=Fraction(5)),
        StepFacts(number=3, kind="rinse", rinse_full=True), StepFacts(number=4, kind="dry", drying="air"),
        StepFacts(number=5, kind="antique"),
    )
    assert mixed_before((clean, silver, rinse, dry, tone)) == (0, 1, 1, 1, 4)
    assert mixed_before((clean, rinse, silver)) == (0, 1, 2)


def test_each_pane_has_its_amount_and_the_rest_is_left_in_the_jug():
    """305 × 305 mm, 300 mL/m², a tenth beside: 30.69825 mL a pane; five panes and 20 mL lost: 173.49125, so 180 mL.

    The worked case of the design, by hand.
    """
    step = StepFacts(number=1, kind="sensitise", how="wipe", coverage_ml_per_m2=Fraction(300),
                     overspill_share=Fraction(1, 10), loss_per_load_ml=Fraction(20),
                     parts=(PartFacts(solution="stock", mixed_for="load"),))
    load = planned((step,)).loads[0]
    mix, done = load.cards
    assert isinstance(mix, MixCard)
    assert isinstance(done, StepCard)
    poured, = done.poured
    assert set(poured.pane_ml.values()) == {Fraction("30.69825")}
    assert (poured.load_ml, mix.made_ml) == (Fraction("173.49125"), 180)
    assert poured.left_ml == 180 - 5 * Fraction("30.69825")


def test_parts_of_a_step_that_are_alike_are_one_mix():
    twice = (PartFacts(solution="stock", mixed_for="load", parts=Fraction(1)),
             PartFacts(solution="stock", mixed_for="load", parts=Fraction(3)))
    step = StepFacts(number=1, kind="clean", how="pour", coverage_ml_per_m2=Fraction(100), parts=twice)
    done = planned((step,)).loads[0].steps[0]
    assert [poured.part.share for poured in done.poured] == [1]


def test_mixes_are_named_by_letters():
    assert [letter(number) for number in (0, 25, 26, 51, 52, 701, 702)] == ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]


def test_a_volume_is_said_no_finer_than_its_cylinder_reads():
    """ISO 4788 graduations: 5 mL in tenths, 250 mL in 2 mL, 2 litres in 20 mL; from memory."""
    for exact, read in (("3.64", "3.6"), ("5.01", "5"), ("12.3", "12.5"), ("139.5", "140"), ("617.9", "620"),
                        ("1883.685", "1880"), ("3767.37", "3760")):
        assert as_poured_ml(Fraction(exact)) == Fraction(read), exact
