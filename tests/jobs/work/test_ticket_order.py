"""A ticket has its steps in the order of its timetable: made safe before it dries, and a quote of before as it was."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from fractions import Fraction

from jobs.estimating.basis import Basis
from jobs.estimating.estimate import Estimate, estimate_basis
from jobs.estimating.timetable import timetable
from jobs.frozen import freeze, thaw
from jobs.quotes.frozen_plan import freeze_plan, thaw_plan
from jobs.work.ticket_plan import TicketPlan, plan_ticket
from recipes.facts import PartFacts, RecipeFacts, Shelf, StepFacts
from tests.jobs.estimating.test_worked_cases import _by_hand
from tests.recipes.finishes.test_bench_rules import MATERIALS, SOLUTIONS

DAY = date(2026, 1, 1)


def older() -> Basis:
    """An older recipe: made safe as its last step, after the seal has dried."""
    priced = {key: replace(material, unit_cost=Fraction(0)) for key, material in MATERIALS.items()}
    steps = (
        StepFacts(number=1, kind="clean", minutes_per_load=Fraction(3)),
        StepFacts(number=2, kind="silver", how="pour", coverage_ml_per_m2=Fraction(1000), minutes_per_load=Fraction(5),
                  parts=(PartFacts(solution="silver"),)),
        StepFacts(number=3, kind="rinse", rinse_full=True, minutes_per_load=Fraction(2)),
        StepFacts(number=4, kind="seal", how="brush", coverage_ml_per_m2=Fraction(100), drying="air",
                  dwell_minutes=Fraction(60), parts=(PartFacts(solution="sealer", mixed_for="job"),)),
        StepFacts(number=5, kind="make safe", minutes_per_load=Fraction(6)),
    )
    basis = _by_hand()
    return replace(basis, shelf=Shelf(materials=priced, solutions=SOLUTIONS),
                   recipes={"r": RecipeFacts(key="r", finish="finish", steps=steps)})


def on_paper(estimate: Estimate) -> list[int]:
    ticket = plan_ticket(estimate, {}, DAY)
    assert ticket.timetable == estimate.timetable
    kept = thaw(json.loads(json.dumps(freeze(ticket))), TicketPlan)
    assert kept == ticket
    return [step.number for step in kept.recipes[0].steps]


def test_a_new_quote_is_made_safe_before_the_seal():
    estimate = estimate_basis(older())
    assert on_paper(estimate) == [1, 2, 3, 5, 4]
    frozen = thaw_plan(freeze_plan(estimate), thaw(freeze(estimate.basis), Basis)).estimate
    assert on_paper(frozen) == [1, 2, 3, 5, 4]


def test_mixing_in_the_timetable_is_no_step_of_the_ticket():
    basis = older()
    mixed = replace(basis, house=replace(basis.house, mixing_minutes_per_batch=Fraction(4)))
    estimate = estimate_basis(mixed)
    assert any(step.only_mixing for step in estimate.timetable.loads[0].steps)
    assert estimate.timetable.job_mixing_minutes == 4
    assert on_paper(estimate) == [1, 2, 3, 5, 4]


def test_a_quote_of_before_keeps_its_order():
    """Given a plan frozen with making safe at the end, when its ticket is printed, then it stands at the end."""
    estimate = estimate_basis(older())
    frozen = thaw_plan(freeze_plan(estimate), thaw(freeze(estimate.basis), Basis)).estimate
    then = timetable(estimate.basis.line_recipes(), estimate.loads)
    assert on_paper(replace(frozen, timetable_then=then)) == [1, 2, 3, 4, 5]
