"""Timings, to read and never to assert: `make bench`.

    python -m tests.benchmark
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from jobs.estimating.estimate import estimate
from jobs.estimating.rests_on import rests_on
from tests.worked_cases import basis_of


def timed(name: str, work: Callable[[], object], times: int = 5) -> None:
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        spent.append(time.perf_counter() - start)
    print(f"{name:<52} {min(spent) * 1000:8.1f} ms")


def main() -> None:
    cases = json.loads((Path(__file__).parent / "jobs" / "worked_cases.json").read_text(encoding="utf-8"))["cases"]
    for case in cases:
        basis = basis_of(case["given"])
        timed(f"estimate: {case['title'][:40]}", lambda basis=basis: estimate(basis))
    basis = basis_of(cases[0]["given"])
    forty = replace(basis, lines=tuple(
        replace(basis.lines[number % 3], number=number + 1) for number in range(40)
    ))
    timed("estimate: forty lines", lambda: estimate(forty))
    timed("what forty lines rest on", lambda: rests_on(estimate(forty)), times=1)


if __name__ == "__main__":
    main()
