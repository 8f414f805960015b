"""A judge of plans that shares no code with the planner: minute by minute, who does what, on the plain forms."""

from __future__ import annotations

from collections import Counter
from typing import Any

DAY = 1440
Case = dict[str, Any]


def judged(case: Case, plan: Case, ask: Case | None = None) -> tuple[list[str], dict[str, int]]:
    """Return what is wrong with a plan, and on which minute each job is over. ask: a further job planned besides."""
    wrong: list[str] = []
    refused = {row["job"] for row in plan["refused"]}
    jobs = {j["id"]: j for j in [*case["jobs"], *([ask["job"]] if ask else [])] if j["id"] not in refused}
    loads = [x for x in [*case["loads"], *(ask["loads"] if ask else [])] if not set(x["jobs"]) & refused]
    people = {p["name"]: p for p in case["people"]}
    doing: dict[str, Counter[int]] = {name: Counter() for name in people}
    on_bench: dict[str, Counter[int]] = {bench: Counter() for bench in case["benches"]}

    def say(true: bool, sentence: str) -> None:
        if not true:
            wrong.append(sentence)

    def there(name: str, start: int, end: int) -> bool:
        return name in people and any(low <= start and end <= high for low, high in people[name]["hours"])

    def do(wanted: Case, start: int, names: list[str], what: str) -> int:
        end = start + wanted["minutes"]
        say(start >= case["now"], f"{what}: in the past")
        say(len(names) == len(set(names)) == wanted.get("hands", 1), f"{what}: hands")
        say(not wanted.get("owner") or "owner" in {people[n]["role"] for n in names if n in people}, f"{what}: owner")
        for name in names:
            say(there(name, start, end), f"{what}: {name} away")
            doing.setdefault(name, Counter()).update(range(start, end))
        if wanted.get("never_alone") and len(names) == 1:
            say(any(there(n, start, end) for n in people if n not in names), f"{what}: alone")
        return end

    say(set(plan["jobs"]) == set(jobs), "jobs")
    say(set(plan["stretches"]) == {s["id"] for x in loads for s in x["stretches"]}, "stretches")
    if wrong:
        return wrong, {}
    ready, cured = {}, {}
    for name, job in jobs.items():
        end = job["earliest"]["before"]
        say(len(plan["jobs"][name]["before"]) == len(job["before"]), f"{name}: before")
        for wanted, (start, names) in zip(job["before"], plan["jobs"][name]["before"], strict=True):
            say(start >= end, f"{name}: before in order")
            end = do(wanted, start, names, f"{name} before")
        ready[name] = max(end + job["outside_minutes"], job["earliest"]["bench"])
        cured[name] = job["earliest"]["packing"]
        if job["before"] and not any(name in load["jobs"] for load in loads):  # its load fell with a refused partner's
            cured[name] = max(cured[name], ready[name])
    wants: dict[tuple[str, str], tuple[int, int | None, int, tuple[str, ...]]] = {}
    for load in loads:
        low, high = max(ready[n] for n in load["jobs"]), 10**9
        for asked in load["stretches"]:
            name, at = asked["id"], plan["stretches"][asked["id"]]
            begin = at["works"][0][0]
            say(low <= begin <= high, f"{name}: wait before it")
            say((asked["earliest"] or 0) <= begin <= (asked["latest"] if asked["latest"] is not None else 10**9), f"{name}: bounds")
            say(asked["pinned"] in (None, {"start": begin, "bench": at["bench"]}), f"{name}: pin")
            starts, ends = [], []
            for wanted, (start, names) in zip(asked["works"], at["works"], strict=True):
                if ends:
                    least, most = asked["works"][len(ends) - 1]["wait"]
                    say(ends[-1] + least <= start <= ends[-1] + most, f"{name}: wait within")
                starts.append(start)
                ends.append(do(wanted, start, names, name))
            say(begin // DAY == (ends[-1] - 1) // DAY, f"{name}: day")
            say(at["bench"] in case["benches"], f"{name}: no such bench")
            on_bench.setdefault(at["bench"], Counter()).update(range(begin, ends[-1]))
            for use in asked["mixes"]:
                safe = None if use["safe"] is None else ends[use["safe"]]
                wants[name, use["key"]] = (starts[use["first"]], safe, use["ml"], tuple(sorted(load["jobs"])))
            low = ends[-1] + asked["wait"][0]
            high = 10**9 if asked["wait"][1] is None else ends[-1] + asked["wait"][1]
        for name in load["jobs"]:
            cured[name] = max(cured[name], low + jobs[name]["cure_minutes"])
    kinds = {k["key"]: k for k in case["mixes"]}
    had: Counter[tuple[str, str]] = Counter()
    for mixing in plan["mixings"]:
        kind, begin = kinds[mixing["key"]], mixing["start"]
        end = do({"minutes": kind["minutes"], "owner": kind["owner"]}, begin, mixing["people"], mixing["key"])
        say(all((name, mixing["key"]) in wants for name in mixing["stretches"]), "serves who does not use it")
        served = [wants[name, mixing["key"]] for name in mixing["stretches"] if (name, mixing["key"]) in wants]
        had.update((name, mixing["key"]) for name in mixing["stretches"])
        say(0 < sum(ml for _, _, ml, _ in served) <= kind["most_ml"], "batch")
        say(kind["shared"] != "no" or len(served) == 1, "not shared")
        say(kind["shared"] != "job" or len({whose for *_, whose in served}) == 1, "one job's")
        for when, safe, _, whose in served:
            say(end <= when <= end + kind["keeps"], "keeps")
            say(all(begin >= jobs[name]["earliest"]["bench"] for name in whose), "stock")
            if kind["safe_within"] is not None:
                say(safe is not None and safe <= begin + kind["safe_within"] and (safe - 1) // DAY == begin // DAY, "safe")
    say(had == Counter(dict.fromkeys(wants, 1)), "each use has one mixing")
    over = {}
    for name, job in jobs.items():
        end = cured[name]
        for wanted, (start, names) in zip(job["after"], plan["jobs"][name]["after"], strict=True):
            say(start >= end, f"{name}: packed before it is cured")
            end = do(wanted, start, names, f"{name} after")
        if job["leaves"] == "collection":
            end = min((c for c in case["collections"] if c >= end), default=10**9)
        over[name] = end
    for what, minutes in (*doing.items(), *on_bench.items()):
        say(all(count == 1 for count in minutes.values()), f"{what} twice at once")
    return wrong, over


def worth(case: Case, plan: Case) -> tuple[int, int, int, int]:
    """Return refused, weighted days late, finishing days, mixings of a plan that stands."""
    wrong, over = judged(case, plan)
    assert not wrong, wrong
    days = {name: (minute - 1) // DAY for name, minute in over.items()}
    late = sum(j["weight"] * max(0, days[j["id"]] - j["due_day"]) for j in case["jobs"]
               if j["id"] in days and j["due_day"] is not None)
    return len(plan["refused"]), late, sum(days.values()), len(plan["mixings"])
