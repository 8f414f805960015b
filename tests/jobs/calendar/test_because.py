"""The sentence why a job is not ready sooner names what held it: a full bench, cure, glass, a collection, nothing."""

from __future__ import annotations

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.calendar.because import because, held_by
from jobs.calendar.effort import AT_ONCE
from jobs.calendar.form import asked_of
from jobs.calendar.planning import plan
from tests.jobs.calendar.studios import case, job, person, stretch, studio, work

DAY = 1440
OWNER = person("Maud", "owner", 20, [[540, 780]])
NAMES = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]


def day(number: int) -> str:
    return f"{NAMES[number % 7]} {7 + number} Dec"


def why(given_case: dict[str, Any], name: str) -> str:
    asked = asked_of(given_case)
    return because(asked, plan(asked, AT_ONCE).plan, name, day)


def test_a_full_bench_and_cure_are_named_in_the_order_in_which_they_come() -> None:
    long = [stretch(f"J1.1.{at}", [work(230)], (0, None)) for at in (1, 2, 3)]
    studio_ = case([OWNER], [job("J1"), job("J2", cure_minutes=2 * DAY)], [
        {"id": "J1.1", "jobs": ["J1"], "stretches": long},
        {"id": "J2.1", "jobs": ["J2"], "stretches": [stretch("J2.1.1", [work(60)])]},
    ], 20)
    assert why(studio_, "J2") == (
        "Ready Sat 12 Dec: the bench is full until Thu 10 Dec, then two days of drying and cure."
    )


def test_glass_that_comes_late_is_the_cause() -> None:
    glass = {"before": 3 * DAY, "bench": 0, "packing": 0, "before_cause": "the glass comes"}
    studio_ = case([OWNER], [job("J1", earliest=glass, before=[work(30)], outside_minutes=2 * DAY)], [
        {"id": "J1.1", "jobs": ["J1"], "stretches": [stretch("J1.1.1", [work(60)])]}], 20)
    assert "the glass comes Wed 9 Dec" in why(studio_, "J1") or "the glass comes Thu 10 Dec" in why(studio_, "J1")
    assert "two days of outside work" in why(studio_, "J1")


def test_a_job_without_a_gap_says_so() -> None:
    studio_ = case([OWNER], [job("J1")], [{"id": "J1.1", "jobs": ["J1"], "stretches": [stretch("J1.1.1", [work(60)])]}], 20)
    assert why(studio_, "J1") == "Ready Mon 7 Dec: its work follows without a gap."


@settings(max_examples=20)
@given(st.integers(0, 500))
def test_every_job_of_any_plan_has_a_sentence_and_what_held_it_lies_before_its_end(seed: int) -> None:
    asked = asked_of(studio(seed, 5))
    made = plan(asked, AT_ONCE).plan
    for name, placed in made.jobs.items():
        for one in held_by(asked, made, name):
            assert one.from_minute < one.to_minute <= placed.finish_minute
        assert because(asked, made, name, day).endswith(".")
