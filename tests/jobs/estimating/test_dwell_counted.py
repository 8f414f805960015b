"""A dwell is counted for the load or for each pane, as the step says: a mist over nine panes is nine dwells."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.drawings.timeline import draw_timeline
from jobs.estimating.basis import Basis, EdgeFacts, GlassFacts, LineFacts
from jobs.estimating.estimate import estimate_basis
from jobs.estimating.loads import Load, Pane
from jobs.estimating.price_contents import clock_minutes
from jobs.estimating.take_off import take_off
from jobs.estimating.timetable import timetable, work_and_dwell
from jobs.templatetags.ticket_words import dwell_words
from jobs.work.ticket_plan import plan_ticket
from recipes.facts import RecipeFacts, StepFacts
from tests.jobs.estimating.test_worked_cases import _by_hand

MIST = StepFacts(number=1, kind="antique", how="mist", minutes_per_load=Fraction(4), dwell_minutes=Fraction(2),
                 dwell_counted="pane")


def nine() -> Load:
    line = LineFacts(number=1, shape="rectangle", width_mm=Fraction(200), height_mm=Fraction(200), quantity=9,
                     recipe="r", glass="g", edge="e")
    size = take_off(line, EdgeFacts(name="e"), GlassFacts(key="g", name="g"))
    return Load(recipe="r", number=1, panes=tuple(Pane(size=size, copy=copy) for copy in range(1, 10)))


@pytest.mark.parametrize(("counted", "attended", "work", "dwell"), [
    ("pane", True, 22, 0), ("pane", False, 4, 18), ("load", True, 6, 0), ("load", False, 4, 2),
])
def test_a_mist_over_nine_panes_is_nine_dwells(counted, attended, work, dwell):
    """Four minutes of work and two of dwell, worked by hand: nine times two where it is counted for each pane."""
    step = replace(MIST, dwell_counted=counted, dwell_attended=attended)
    assert work_and_dwell(step, nine()) == (work, dwell)
    rinse = StepFacts(number=2, kind="rinse", minutes_per_load=Fraction(1))
    found = timetable([RecipeFacts(key="r", finish="r", steps=(step, rinse))], {"r": [nine()]})
    assert found.loads[0].steps[1].starts == work + dwell
    assert (found.finish_minutes, found.labour_minutes) == (work + dwell + 1, work + 1)


def wiped(**more) -> Basis:
    """The worked case of five panes by hand, with its wiping step changed: unattended, half a minute of dwell."""
    basis = _by_hand()
    wipe, pour = basis.recipes["r"].steps
    return replace(basis, recipes={"r": replace(basis.recipes["r"], steps=(replace(wipe, **more), pour))})


def test_a_dwell_of_each_pane_is_paid_where_somebody_stays():
    """Half a minute, attended: half a minute for the load, two and a half for its five panes."""
    before, load, pane = (estimate_basis(wiped(**more)) for more in (
        {}, {"dwell_attended": True}, {"dwell_attended": True, "dwell_counted": "pane"}))
    assert load.minutes - before.minutes == Fraction(1, 2)
    assert pane.minutes - before.minutes == Fraction(5, 2)
    assert pane.timetable.labour_minutes == pane.minutes
    assert pane.timetable.finish_minutes - load.timetable.finish_minutes == 2


def test_one_that_nobody_stays_with_is_time_on_the_clock_alone():
    before, pane = estimate_basis(wiped()), estimate_basis(wiped(dwell_counted="pane"))
    assert pane.minutes == before.minutes
    assert pane.price == before.price
    assert clock_minutes(pane) - clock_minutes(before) == pane.timetable.finish_minutes - (
        before.timetable.finish_minutes) == 2


def test_ticket_and_timetable_say_whose_dwell_it_is():
    estimate = estimate_basis(wiped(dwell_counted="pane"))
    wipe, pour = plan_ticket(estimate, {}, date(2026, 1, 1)).recipes[0].steps
    assert dwell_words(wipe) == "each pane dwell 30 s"
    assert dwell_words(pour) == "each pane dwell 5 min"  # rocked, mixed pane by pane
    assert dwell_words(plan_ticket(estimate_basis(wiped()), {}, date(2026, 1, 1)).recipes[0].steps[0]) == "dwell 30 s"
    (table,) = draw_timeline(estimate.timetable, {}).tables
    takes = [words for _, words, _ in table.steps]
    assert takes[0].endswith("then 3 min and not longer, each pane 30 s")
    assert "each pane" not in takes[1]


@given(st.fractions(0, 30, max_denominator=4), st.booleans(), st.sampled_from(["still", "rocked"]), st.integers(1, 9))
def test_counted_for_each_pane_it_is_never_less(dwell, ticked, motion, panes):
    once = StepFacts(number=1, kind="silver", dwell_minutes=dwell, dwell_attended=ticked, motion=motion)
    each = replace(once, dwell_counted="pane")
    load = replace(nine(), panes=nine().panes[:panes])
    assert sum(work_and_dwell(each, load)) == panes * sum(work_and_dwell(once, load))
