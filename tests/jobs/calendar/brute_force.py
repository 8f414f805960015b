"""The best plan of a tiny studio by trying all: every place of one job beside every place of the other.

On the grid of five minutes, written from the rules alone. One load of one stretch a job, one kind of mix.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

DAY, GRID = 1440, 5
Case = dict[str, Any]


def best(case: Case) -> tuple[int, int, int]:
    """Return the least of weighted days late, finishing days and mixings."""
    one, other = (sorted(_short(list(_places(case, at))), key=_worth) for at in (0, 1))
    kind, found = case["mixes"][0], (10**9, 0, 0)
    for first in one:
        for second in other:
            together = tuple(a + b for a, b in zip(_worth(first), _worth(second), strict=True))
            if together[:2] > found[:2]:
                break
            if together >= found or first["busy"] & second["busy"] or first["bench"] & second["bench"]:
                continue
            if first["mixed_by_other"] and second["mixed_by_other"]:
                continue
            if _served(kind, first, second) and _served(kind, second, first):
                found = together
    return found


def _worth(place: Case) -> tuple[int, int, int]:
    return place["late"], place["day"], place["mixings"]


def _short(places: list[Case]) -> list[Case]:
    """Leave out places that take the same and come out the same."""
    return list({(p["busy"], p["bench"], p["day"], p["use"], p["safe"], p["mix"], p["mixed_by_other"]): p for p in places}.values())


def _served(kind: Case, user: Case, mixer: Case) -> bool:
    if not user["mixed_by_other"]:
        return True
    if kind["shared"] != "jobs" or mixer["mix"] is None or user["ml"] + mixer["ml"] > kind["most_ml"]:
        return False
    end = mixer["mix"] + kind["minutes"]
    safe = kind["safe_within"] is None or (
        user["safe"] - mixer["mix"] <= kind["safe_within"] and (user["safe"] - 1) // DAY == mixer["mix"] // DAY
    )
    return end <= user["use"] <= end + kind["keeps"] and safe


def _bits(start: int, minutes: int, person: int = 0, people: int = 1) -> int:
    found = 0
    for minute in range(start, start + minutes, GRID):
        found |= 1 << (minute // GRID * people + person)
    return found


def _may(case: Case, wanted: Case, start: int) -> Iterator[int]:
    for at, person in enumerate(case["people"]):
        if wanted.get("owner") and person["role"] != "owner":
            continue
        if any(low <= start and start + wanted["minutes"] <= high for low, high in person["hours"]):
            yield at


def _places(case: Case, number: int) -> Iterator[Case]:
    job, stretch = case["jobs"][number], case["loads"][number]["stretches"][0]
    people, kind = len(case["people"]), case["mixes"][0]
    times = range(case["now"], case["days"] * DAY, GRID)

    def chains(at: int, low: int, high: int) -> Iterator[tuple[list[int], int]]:
        if at == len(stretch["works"]):
            yield [], 0
            return
        wanted = stretch["works"][at]
        for start in range(low, high + 1, GRID):
            for person in _may(case, wanted, start):
                end = start + wanted["minutes"]
                for rest, busy in chains(at + 1, end + wanted["wait"][0], end + wanted["wait"][1]):
                    mine = _bits(start, wanted["minutes"], person, people)
                    if not busy & mine:
                        yield [start, *rest], busy | mine

    for begin in times:
        for starts, busy in chains(0, begin, begin):
            end = starts[-1] + stretch["works"][-1]["minutes"]
            if begin // DAY != (end - 1) // DAY:
                continue
            mixed = list(_mixed(case, stretch, starts, busy, kind, people))
            cured = end + stretch["wait"][0] + job["cure_minutes"]
            for mix, by_other, taken, use, safe in mixed:
                packed = [(cured, taken)] if not job["after"] else [
                    (start + job["after"][0]["minutes"], taken | extra)
                    for start in range(-(-cured // GRID) * GRID, case["days"] * DAY, GRID)
                    for person in _may(case, job["after"][0], start)
                    if not taken & (extra := _bits(start, job["after"][0]["minutes"], person, people))
                ]
                for over, all_taken in packed:
                    day = (over - 1) // DAY
                    late = 0 if job["due_day"] is None else job["weight"] * max(0, day - job["due_day"])
                    yield {"busy": all_taken, "bench": _bits(begin, end - begin), "day": day, "late": late, "mix": mix,
                           "mixed_by_other": by_other, "mixings": int(mix is not None), "use": use, "safe": safe,
                           "ml": stretch["mixes"][0]["ml"] if stretch["mixes"] else 0}


def _mixed(case: Case, stretch: Case, starts: list[int], busy: int, kind: Case, people: int) -> Iterator[tuple[Any, ...]]:
    if not stretch["mixes"]:
        yield None, False, busy, None, None
        return
    use = stretch["mixes"][0]
    when, safe = starts[use["first"]], starts[use["safe"]] + stretch["works"][use["safe"]]["minutes"]
    yield None, True, busy, when, safe
    for start in range(when - kind["minutes"] - kind["keeps"], when - kind["minutes"] + 1, GRID):
        if start < case["now"] or (kind["safe_within"] is not None and (
            safe - start > kind["safe_within"] or (safe - 1) // DAY != start // DAY
        )):
            continue
        for person in _may(case, kind, start):
            mine = _bits(start, kind["minutes"], person, people)
            if not busy & mine:
                yield start, False, busy | mine, when, safe
