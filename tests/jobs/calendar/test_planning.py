"""The calendar's planner: no rule broken, tiny studios as good as can be, refusals with reasons, the same every time."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.calendar.effort import AT_ONCE, TWO_SECONDS, Effort
from jobs.calendar.form import answer_written, asked_of, plan_of, plan_written
from jobs.calendar.planning import plan
from jobs.calendar.rules import broken
from tests.jobs.calendar.brute_force import best
from tests.jobs.calendar.judge import judged, worth
from tests.jobs.calendar.studios import case, job, person, stretch, studio, tiny, work

QUICK = Effort(order_work=300, ask_work=300, whole=0.02, window=0.01, windows=1, window_jobs=3, ask_windows=1)
OWNER = person("P1", "owner", 20, [[540, 750], [810, 1020]])
HELPER = person("P2", "helper", 20, [[570, 750], [780, 990]])


def answered(given: dict[str, Any], effort: Effort = QUICK) -> dict[str, Any]:
    return answer_written(plan(asked_of(given), effort))


@settings(max_examples=15)
@given(st.integers(0, 10**6), st.integers(2, 9))
def test_no_plan_of_any_studio_breaks_a_rule_and_none_is_worse_than_first_come(seed: int, jobs: int) -> None:
    drawn = studio(seed, jobs, asks=1)
    asked = asked_of(drawn)
    at_once, better = answered(drawn, AT_ONCE), answered(drawn)
    for answer in (at_once, better):
        wrong, over = judged(drawn, answer)
        assert not wrong
        for ask, wanted in zip(answer["asks"], drawn["asks"], strict=True):
            if ask["day"] is None:
                assert ask["why"].endswith(".")
                continue
            wrong, then = judged(drawn, ask["plan"], wanted)
            assert not wrong
            assert ask["day"] == (then[ask["job"]] - 1) // 1440
            for one in drawn["jobs"]:
                if one["due_day"] is not None and one["id"] in over:
                    assert (then[one["id"]] - 1) // 1440 <= max(one["due_day"], (over[one["id"]] - 1) // 1440)
        assert not broken(asked, plan_of(answer))
    assert worth(drawn, better) <= worth(drawn, at_once)


@settings(max_examples=15)
@given(st.integers(0, 10**6))
def test_a_tiny_studio_is_planned_as_well_as_can_be(seed: int) -> None:
    drawn = tiny(seed)
    least = best(drawn)
    answer = answered(drawn, TWO_SECONDS)
    if not answer["refused"]:
        assert worth(drawn, answer)[1:] == least
    else:
        assert least[0] == 10**9


def _bits_of_a_plan(hash_seed: str) -> bytes:
    program = (
        "import json; from tests.jobs.calendar.test_planning import answered; "
        "from tests.jobs.calendar.studios import studio; "
        "print(json.dumps([answered(studio(7, 7, 1)), answered(studio(8, 12))]))"
    )
    return subprocess.run(
        [sys.executable, "-c", program], env={**os.environ, "PYTHONHASHSEED": hash_seed}, capture_output=True, check=True,
    ).stdout


def test_the_same_input_gives_the_same_bytes() -> None:
    first = _bits_of_a_plan("1")
    assert first == _bits_of_a_plan("2")
    again = json.dumps([answered(studio(7, 7, 1)), answered(studio(8, 12))])
    assert first.decode().strip() == again


def one_job(works: list[dict[str, Any]], people: list[dict[str, Any]], mixes: tuple[dict[str, Any], ...] = (),
            **more: Any) -> dict[str, Any]:
    """Return a studio with an everyday job beside one of these works."""
    uses = tuple({"key": mix["key"], "ml": mix.pop("ml"), "first": 0, "safe": len(works) - 1} for mix in mixes)
    return case(people, [job("J1"), job("J2", **more)], [
        {"id": "J1.1", "jobs": ["J1"], "stretches": [stretch("J1.1.1", [work(30)])]},
        {"id": "J2.1", "jobs": ["J2"], "stretches": [stretch("J2.1.1", works, (0, None), uses, name="silver")]},
    ], 20, mixes=list(mixes))


SILVER = {"key": "F1", "minutes": 20, "owner": False, "keeps": 60, "most_ml": 1000, "shared": "no", "safe_within": 120,
          "name": "the silver solution", "ml": 500}


@pytest.mark.parametrize(("given_case", "why"), [
    (one_job([work(220, owner=True)], [OWNER]), "silver needs the owner for 3 h 40; the longest spell is 3 h 30."),
    (one_job([work(30, hands=2)], [OWNER]), "silver needs two people; there is one."),
    (one_job([work(30, never_alone=True)], [OWNER]),
     "silver is never done alone, and two people are never there together for 30 min."),
    (one_job([work(190, hands=2)], [OWNER, HELPER]),
     "silver needs two people for 3 h 10; they are never there together for so long."),
    (one_job([work(30)], [OWNER], ({**SILVER, "ml": 1200},)),
     "silver needs 1200 mL of the silver solution at once; the largest batch is 1000 mL."),
    (one_job([work(60), work(60)], [OWNER], ({**SILVER},)),
     "silver takes 2 h 20 from mixing the silver solution until it is safe; it must be safe within 2 h."),
    (one_job([work(30)], [OWNER], leaves="collection"), "J2 leaves by a collection, and none is planned."),
])
def test_what_cannot_be_done_even_alone_is_refused_by_name_with_the_reason(given_case: dict[str, Any], why: str) -> None:
    answer = answered(given_case)
    assert answer["refused"] == [{"job": "J2", "why": why}]
    assert set(answer["jobs"]) == {"J1"}
    assert not judged(given_case, answer)[0]


def test_a_mix_is_as_late_as_it_may_be_and_the_helper_goes_first() -> None:
    drawn = one_job([work(30), work(30)], [OWNER, HELPER], ({**SILVER},))
    drawn["loads"].reverse()
    drawn["jobs"].reverse()
    answer = answered(drawn, AT_ONCE)
    silver, mixing = answer["stretches"]["J2.1.1"], answer["mixings"][0]
    assert silver["works"] == [[590, ["P2"]], [620, ["P2"]]] or silver["works"][0][0] - mixing["start"] == 20


def test_two_stretches_share_a_mix_only_where_its_sharing_says_so() -> None:
    def mixings(shared: str) -> int:
        mix = {**SILVER, "shared": shared, "ml": 400}
        mix.pop("ml")
        use = ({"key": "F1", "ml": 400, "first": 0, "safe": 0},)
        loads = [{"id": f"J{at}.1", "jobs": [f"J{at}"],
                  "stretches": [stretch(f"J{at}.1.1", [work(20)], (0, None), use)]} for at in (1, 2)]
        return len(answered(case([OWNER], [job("J1"), job("J2")], loads, 20, mixes=[mix]))["mixings"])

    assert (mixings("no"), mixings("job"), mixings("jobs")) == (2, 2, 1)


def test_a_pinned_stretch_stays_to_the_minute() -> None:
    drawn = studio(3, 4)
    before = answered(drawn)
    name, placed = next(iter(before["stretches"].items()))
    wanted = next(s for load in drawn["loads"] for s in load["stretches"] if s["id"] == name)
    wanted["pinned"] = {"start": placed["works"][0][0], "bench": placed["bench"]}
    after = answered(drawn)
    assert not judged(drawn, after)[0]
    assert after["stretches"][name]["works"][0][0] == placed["works"][0][0]


def test_minutes_off_the_grid_are_kept_too() -> None:
    """Hours, earliest starts, a pin and a collection at odd minutes, as they come from other people's clocks."""
    maud = person("P1", "owner", 20, [[541, 752], [809, 1021]])
    drawn = case([maud], [
        job("J1", earliest={"before": 0, "bench": 543, "packing": 1443}),
        job("J2", leaves="collection", cure_minutes=721, after=[work(20)]), job("J3", leaves="collection"),
    ], [
        {"id": f"J{at}.1", "jobs": [f"J{at}"], "stretches": [
            stretch(f"J{at}.1.1", [work(30, 0, 10), work(25)], (62, 2881)), stretch(f"J{at}.1.2", [work(20)])]}
        for at in (1, 2, 3)
    ], 20, now=542, collections=[day * 1440 + 963 for day in range(20)])
    drawn["loads"][1]["stretches"][0]["pinned"] = {"start": 613, "bench": "B1"}
    for effort in (AT_ONCE, TWO_SECONDS):
        answer = answered(drawn, effort)
        assert not answer["refused"]
        assert not judged(drawn, answer)[0]


def test_a_former_plan_that_still_stands_is_never_made_worse() -> None:
    asked = asked_of(studio(21, 8))
    better = plan(asked, QUICK)
    again = plan(asked, AT_ONCE, plan_of(plan_written(better.plan)))
    assert again.value == better.value
    assert plan_written(again.plan) == plan_written(better.plan)
    assert plan(asked, QUICK, better.plan).value <= better.value
    gone = asked_of(studio(22, 8))
    assert plan(gone, AT_ONCE, better.plan).value == plan(gone, AT_ONCE).value


@pytest.mark.parametrize("seed", [11, 12])
def test_a_busy_studio_is_planned_much_better_than_first_come(seed: int) -> None:
    """The limits of the open cases, on studios of the same kind: lateness and finishing days fall."""
    drawn = studio(seed, 20)
    first, better = worth(drawn, answered(drawn, AT_ONCE)), worth(drawn, answered(drawn, TWO_SECONDS))
    assert better[:2] <= first[:2]
    assert better[1] <= max(first[1] * 0.6, 3) or better[2] < first[2]


def test_a_plan_written_is_read_again() -> None:
    made = plan(asked_of(studio(5, 5)), AT_ONCE).plan
    assert plan_of(json.loads(json.dumps(plan_written(made)))) == plan_of(plan_written(made))
