"""A damaged plan is refused: each rule broken on purpose is named, and what the judge finds the rules find too."""

from __future__ import annotations

import copy
from collections.abc import Callable
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.calendar.effort import AT_ONCE
from jobs.calendar.form import answer_written, asked_of, plan_of
from jobs.calendar.planning import plan
from jobs.calendar.rules import broken
from tests.jobs.calendar.judge import judged
from tests.jobs.calendar.studios import studio

Case = dict[str, Any]
PEOPLE = ["P1", "P2"]


def _place(plan_: Case, chance: Random) -> list[Any]:
    """Return one work placed, anywhere in the plan."""
    works = [work for job in plan_["jobs"].values() for work in (*job["before"], *job["after"])]
    works += [work for stretch in plan_["stretches"].values() for work in stretch["works"]]
    return chance.choice(works)


def sooner(plan_: Case, chance: Random) -> None:
    _place(plan_, chance)[0] -= chance.choice([5, 60, 1440])


def later(plan_: Case, chance: Random) -> None:
    _place(plan_, chance)[0] += chance.choice([5, 60, 1440])


def other_hands(plan_: Case, chance: Random) -> None:
    work = _place(plan_, chance)
    work[1] = [chance.choice(PEOPLE)]


def other_bench(plan_: Case, chance: Random) -> None:
    chance.choice(list(plan_["stretches"].values()))["bench"] = chance.choice(["B1", "B2", "B9"])


def without_a_mixing(plan_: Case, chance: Random) -> None:
    if plan_["mixings"]:
        plan_["mixings"].pop(chance.randrange(len(plan_["mixings"])))


def mixed_at_another_time(plan_: Case, chance: Random) -> None:
    if plan_["mixings"]:
        chance.choice(plan_["mixings"])["start"] += chance.choice([-600, -60, -5, 5, 60])


def one_mixing_for_two(plan_: Case, chance: Random) -> None:
    if len(plan_["mixings"]) > 1:
        gone = plan_["mixings"].pop(chance.randrange(len(plan_["mixings"])))
        chance.choice(plan_["mixings"])["stretches"] += gone["stretches"]


def half_a_job(plan_: Case, chance: Random) -> None:
    plan_["stretches"].pop(chance.choice(sorted(plan_["stretches"])))


def no_job(plan_: Case, chance: Random) -> None:
    plan_["jobs"].pop(chance.choice(sorted(plan_["jobs"])))


def refused_without_reason(plan_: Case, chance: Random) -> None:
    plan_["refused"].append({"job": chance.choice(sorted(plan_["jobs"])), "why": " "})


DAMAGES = [sooner, later, other_hands, other_bench, without_a_mixing, mixed_at_another_time, one_mixing_for_two]


@settings(max_examples=60)
@given(st.integers(0, 200), st.sampled_from(DAMAGES), st.integers(0, 10**6))
def test_the_rules_find_what_the_judge_finds(seed: int, damage: Callable[[Case, Random], None], how: int) -> None:
    drawn = studio(seed, 4)
    asked = asked_of(drawn)
    damaged = copy.deepcopy(answer_written(plan(asked, AT_ONCE)))
    damage(damaged, Random(how))
    wrong, over = judged(drawn, damaged)
    for name, minute in over.items():
        damaged["jobs"][name]["finish"] = minute
    assert bool(broken(asked, plan_of(damaged))) == bool(wrong)


@pytest.mark.parametrize("damage", [half_a_job, no_job, refused_without_reason])
def test_never_half_a_job(damage: Callable[[Case, Random], None]) -> None:
    asked = asked_of(studio(3, 4))
    damaged = copy.deepcopy(answer_written(plan(asked, AT_ONCE)))
    assert not broken(asked, plan_of(damaged))
    damage(damaged, Random(1))
    assert broken(asked, plan_of(damaged))


def test_a_finish_that_is_not_so_is_named() -> None:
    asked = asked_of(studio(3, 4))
    damaged = answer_written(plan(asked, AT_ONCE))
    damaged["jobs"]["J01"]["finish"] -= 1440
    assert "J01 is said to be ready" in broken(asked, plan_of(damaged))[0]
