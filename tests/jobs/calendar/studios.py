"""Studios drawn by a seed, in the form of the calendar's cases: open ones, tight ones, tiny ones."""

from __future__ import annotations

from random import Random
from typing import Any

DAY = 1440
Case = dict[str, Any]


def work(minutes: int, least: int = 0, most: int = 0, **more: Any) -> Case:
    return {"minutes": minutes, "hands": 1, "owner": False, "never_alone": False, "wait": [least, most], **more}


def person(name: str, role: str, days: int, spells: list[list[int]], away: set[int] | None = None) -> Case:
    hours = [[day * DAY + low, day * DAY + high] for day in range(days) if day % 7 not in (5, 6) and day not in (away or ())
             for low, high in spells]
    return {"name": name, "role": role, "hours": hours}


def stretch(number: str, works: list[Case], wait: tuple[int, int | None] = (0, None), mixes: tuple[Case, ...] = (),
            **more: Any) -> Case:
    return {"id": number, "works": works, "wait": list(wait), "mixes": list(mixes), "earliest": None, "latest": None,
            "pinned": None, "was_day": None, **more}


def job(name: str, due: int | None = None, **more: Any) -> Case:
    return {"id": name, "due_day": due, "weight": 1, "earliest": {"before": 0, "bench": 0, "packing": 0}, "before": [],
            "outside_minutes": 0, "cure_minutes": 0, "after": [], "leaves": "ready", **more}


def case(people: list[Case], jobs: list[Case], loads: list[Case], days: int = 40, **more: Any) -> Case:
    return {"name": "drawn", "first_day": "2026-12-07", "now": 540, "days": days, "benches": ["B1"], "people": people,
            "collections": [], "mixes": [], "jobs": jobs, "loads": loads, "asks": [], **more}


def _works_of(chance: Random, helper: bool) -> list[Case]:
    works = []
    for _ in range(chance.randint(1, 4)):
        least = 5 * chance.randint(0, 1)
        works.append(work(5 * chance.randint(2, 8), least, least + 5 * chance.randint(0, 2),
                          owner=chance.random() < 0.15, hands=2 if helper and chance.random() < 0.1 else 1,
                          never_alone=helper and chance.random() < 0.1))
    return works


def _job_of(chance: Random, name: str, kinds: list[Case], helper: bool, days: int) -> tuple[Case, list[Case]]:
    loads = []
    for at in range(1, chance.randint(1, 3) + 1):
        stretches = []
        for number in range(1, chance.randint(1, 4) + 1):
            works, mixes = _works_of(chance, helper), []
            if kinds and chance.random() < 0.5:
                kind = chance.choice(kinds)
                first = chance.randrange(len(works))
                mixes.append({"key": kind["key"], "ml": 50 * chance.randint(4, 18), "first": first,
                              "safe": chance.randrange(first, len(works)) if kind["safe_within"] else None})
            stretches.append(stretch(
                f"{name}.{at}.{number}", works,
                chance.choice([(45, 2880), (60, None), (240, None), (720, None), (180, 1440)]), tuple(mixes),
                was_day=chance.choice([None, None, chance.randrange(days // 3)]),
            ))
        loads.append({"id": f"{name}.{at}", "jobs": [name], "stretches": stretches})
    made = job(
        name, chance.choice([None, *[chance.randint(2, days // 2) for _ in range(4)]]), weight=chance.choice([1, 1, 1, 3]),
        earliest={"before": chance.choice([0, DAY * chance.randrange(5)]), "bench": chance.choice([0, DAY * chance.randrange(7)]),
                  "packing": chance.choice([0, DAY * chance.randrange(9)])},
        before=[work(5 * chance.randint(2, 18)) for _ in range(chance.randint(0, 2))],
        outside_minutes=chance.choice([0, 0, 2880]), cure_minutes=chance.choice([0, 1440, 2880]),
        after=[work(5 * chance.randint(2, 9)) for _ in range(chance.randint(0, 1))],
        leaves=chance.choice(["ready", "ready", "collection"]),
    )
    return made, loads


def studio(seed: int, jobs: int = 6, asks: int = 0) -> Case:
    """Return a studio of the kind the calendar meets: one or two people and benches, mixes shared or not, asks."""
    chance = Random(seed)
    days = 30 + 3 * jobs
    helper = chance.random() < 0.6
    people = [person("P1", "owner", days, [[540, 750], [810, 1020]], {chance.randrange(14)})]
    if helper:
        people.append(person("P2", "helper", days, [[570, 750], [780, 990]], {chance.randrange(14), chance.randrange(14)}))
    kinds = [
        {"key": f"F{at}", "minutes": 5 * chance.randint(3, 6), "owner": chance.random() < 0.3,
         "keeps": chance.choice([45, 60, 120, 180]), "most_ml": chance.choice([1000, 2000, 3000]),
         "shared": chance.choice(["no", "job", "jobs"]), "safe_within": chance.choice([None, 240, 240])}
        for at in range(1, chance.randint(1, 3) + 1)
    ]
    made = [_job_of(chance, f"J{at:02}", kinds, helper, days) for at in range(1, jobs + 1)]
    asked = [_job_of(chance, f"Q{at}", kinds, helper, days) for at in range(1, asks + 1)]
    loads = [load for _, some in made for load in some]
    if jobs > 2 and chance.random() < 0.4:
        loads[0]["jobs"] = [made[0][0]["id"], made[1][0]["id"]]
    return case(
        people, [one for one, _ in made], loads, days, mixes=kinds, benches=["B1", "B2"][:chance.randint(1, 2)],
        collections=[day * DAY + 960 for day in range(days) if day % 7 in (1, 4)],
        asks=[{"job": one, "loads": some} for one, some in asked],
    )


def tiny(seed: int) -> Case:
    """Return a studio so small that every plan of it can be tried: two jobs of a stretch, short days, one mix."""
    chance = Random(seed)
    days = 4
    people = [person("P1", "owner", days, [[540, 540 + 5 * chance.randint(7, 10)]])]
    if chance.random() < 0.3:
        people.append(person("P2", "helper", days, [[550, 550 + 5 * chance.randint(5, 8)]]))
    kind = {"key": "F1", "minutes": 5 * chance.randint(1, 2), "owner": chance.random() < 0.3, "keeps": 5 * chance.randint(1, 3),
            "most_ml": 1000, "shared": chance.choice(["no", "job", "jobs"]), "safe_within": chance.choice([None, 45])}
    jobs, loads = [], []
    for at in (1, 2):
        name = f"J{at}"
        works = [work(5 * chance.randint(1, 3), 0, 5 * chance.randint(0, 1), owner=chance.random() < 0.2)
                 for _ in range(chance.randint(1, 2))]
        mixes = []
        if chance.random() < 0.7:
            first = chance.randrange(len(works))
            mixes.append({"key": "F1", "ml": chance.choice([300, 700]), "first": first, "safe": len(works) - 1})
        jobs.append(job(name, chance.choice([None, 0, 1]), weight=chance.randint(1, 2),
                        after=[work(5 * chance.randint(1, 4))] if chance.random() < 0.8 else [],
                        cure_minutes=chance.choice([0, 0, 720])))
        loads.append({"id": f"{name}.1", "jobs": [name], "stretches": [stretch(f"{name}.1.1", works, (5, None), tuple(mixes))]})
    return case(people, jobs, loads, days, mixes=[kind])
