"""What is asked and answered as plain JSON values, the form of the calendar's cases: read, and written.

A plan written here is what a studio keeps of it; `asked_written` is what its hash is taken of.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date
from typing import Any

from jobs.calendar.asked import (
    CalendarAsked,
    Earliest,
    FurtherJob,
    JobAsked,
    LoadAsked,
    MixAsked,
    MixUse,
    PersonAsked,
    Pin,
    Spell,
    StretchAsked,
    WorkAsked,
)
from jobs.calendar.planned import Answer, Mixing, PlacedJob, PlacedStretch, PlacedWork, Plan, Refusal

Given = Mapping[str, Any]


def asked_of(given: Given) -> CalendarAsked:
    """Return what a case of the form asks. Errors: KeyError where something is missing."""
    return CalendarAsked(
        first_day=date.fromisoformat(given["first_day"]), now_minute=given["now"], days=given["days"],
        people=tuple(
            PersonAsked(name=person["name"], role=person["role"],
                        hours=tuple(Spell(start_minute=low, end_minute=high) for low, high in sorted(person["hours"])))
            for person in given["people"]
        ),
        benches=tuple(given["benches"]), mixes=tuple(map(_mix_of, given["mixes"])),
        jobs=tuple(map(_job_of, given["jobs"])), loads=tuple(map(_load_of, given["loads"])),
        collections=tuple(sorted(given.get("collections", ()))),
        asks=tuple(FurtherJob(job=_job_of(ask["job"]), loads=tuple(map(_load_of, ask["loads"])))
                   for ask in given.get("asks", ())),
    )


def _mix_of(given: Given) -> MixAsked:
    return MixAsked(
        key=given["key"], minutes=given["minutes"], owner=given.get("owner", False), keeps_minutes=given["keeps"],
        most_ml=given["most_ml"], shared=given["shared"], safe_within_minutes=given.get("safe_within"),
        name=given.get("name", ""),
    )


def _work_of(given: Given) -> WorkAsked:
    least, most = given.get("wait", (0, 0))
    return WorkAsked(
        minutes=given["minutes"], hands=given.get("hands", 1), owner=given.get("owner", False),
        never_alone=given.get("never_alone", False), wait_least_minutes=least, wait_most_minutes=most,
    )


def _job_of(given: Given) -> JobAsked:
    earliest = given["earliest"]
    return JobAsked(
        id=given["id"], due_day=given["due_day"], weight=given["weight"],
        earliest=Earliest(
            before_minute=earliest["before"], bench_minute=earliest["bench"], packing_minute=earliest["packing"],
            before_cause=earliest.get("before_cause", ""), bench_cause=earliest.get("bench_cause", ""),
            packing_cause=earliest.get("packing_cause", ""),
        ),
        before=tuple(map(_work_of, given["before"])), outside_minutes=given["outside_minutes"],
        cure_minutes=given["cure_minutes"], after=tuple(map(_work_of, given["after"])), leaves=given["leaves"],
        name=given.get("name", ""),
    )


def _load_of(given: Given) -> LoadAsked:
    return LoadAsked(id=given["id"], jobs=tuple(given["jobs"]), stretches=tuple(
        StretchAsked(
            id=stretch["id"], works=tuple(map(_work_of, stretch["works"])), wait_least_minutes=stretch["wait"][0],
            wait_most_minutes=stretch["wait"][1],
            mixes=tuple(MixUse(key=use["key"], ml=use["ml"], first_work=use["first"], safe_work=use.get("safe"))
                        for use in stretch["mixes"]),
            earliest_minute=stretch.get("earliest"), latest_minute=stretch.get("latest"),
            pinned=Pin(start_minute=stretch["pinned"]["start"], bench=stretch["pinned"]["bench"])
            if stretch.get("pinned") else None,
            was_day=stretch.get("was_day"), name=stretch.get("name", ""),
        ) for stretch in given["stretches"]
    ))


def asked_written(asked: CalendarAsked) -> dict[str, Any]:
    """Return all that was asked as JSON values, the same for the same: what a plan's hash is taken of."""
    written = asdict(asked)
    written["first_day"] = asked.first_day.isoformat()
    return written


def _works(works: Sequence[PlacedWork]) -> list[list[Any]]:
    return [[work.start_minute, list(work.people)] for work in works]


def plan_written(plan: Plan) -> dict[str, Any]:
    """Return a plan in the form of the cases, jobs and stretches in the order of their names."""
    return {
        "jobs": {name: {"before": _works(job.before), "after": _works(job.after), "finish": job.finish_minute}
                 for name, job in sorted(plan.jobs.items())},
        "stretches": {name: {"bench": stretch.bench, "works": _works(stretch.works)}
                      for name, stretch in sorted(plan.stretches.items())},
        "mixings": [{"key": mixing.key, "start": mixing.start_minute, "people": list(mixing.people),
                     "stretches": list(mixing.stretches)} for mixing in plan.mixings],
        "refused": [{"job": refusal.job, "why": refusal.why} for refusal in plan.refused],
    }


def plan_of(given: Given) -> Plan:
    """Return a plan that was written: the opposite of `plan_written`."""
    def works(rows: Sequence[Any]) -> tuple[PlacedWork, ...]:
        return tuple(PlacedWork(start_minute=start, people=tuple(people)) for start, people in rows)

    return Plan(
        jobs={name: PlacedJob(before=works(job["before"]), after=works(job["after"]), finish_minute=job["finish"])
              for name, job in given["jobs"].items()},
        stretches={name: PlacedStretch(bench=stretch["bench"], works=works(stretch["works"]))
                   for name, stretch in given["stretches"].items()},
        mixings=tuple(Mixing(key=mixing["key"], start_minute=mixing["start"], people=tuple(mixing["people"]),
                             stretches=tuple(mixing["stretches"])) for mixing in given["mixings"]),
        refused=tuple(Refusal(job=refusal["job"], why=refusal["why"]) for refusal in given.get("refused", ())),
    )


def answer_written(answer: Answer) -> dict[str, Any]:
    """Return an answer in the form of the cases."""
    asks = [
        {"job": ask.job, "day": None, "why": ask.why} if ask.plan is None
        else {"job": ask.job, "day": ask.day, "plan": plan_written(ask.plan)} for ask in answer.asks
    ]
    return {**plan_written(answer.plan), "asks": asks}
