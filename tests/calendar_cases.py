"""Plan the cases of a calendar in the neutral form with the product's own planner and print the answers.

    python -m tests.calendar_cases FILE [--out ANSWERS] [--at-once | --long]

prints {"plans": [{"name", "seconds", "jobs", "stretches", "mixings", "refused", "asks"}]}; seconds are of the processor.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path
from typing import Any

import jobs.calendar.windows  # noqa: F401 (the solver's own loading is no work on a case)
from jobs.calendar.effort import AT_ONCE, LONG, TWO_SECONDS, Effort
from jobs.calendar.form import answer_written, asked_of
from jobs.calendar.planning import plan


def answered(case: dict[str, Any], effort: Effort) -> dict[str, Any]:
    """Return the answer to one case, with the seconds of the processor that it took."""
    start = time.process_time()
    answer = answer_written(plan(asked_of(case), effort))
    return {"name": case["name"], "seconds": round(time.process_time() - start, 2), **answer}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("file", type=Path)
    parser.add_argument("--out", type=Path)
    effort = parser.add_mutually_exclusive_group()
    effort.add_argument("--at-once", action="store_true", help="first come only")
    effort.add_argument("--long", action="store_true", help="the longer improvement")
    given = parser.parse_args()
    spent = AT_ONCE if given.at_once else LONG if given.long else TWO_SECONDS
    cases = json.loads(given.file.read_text(encoding="utf-8"))["cases"]
    answer = json.dumps({"plans": [answered(case, spent) for case in cases]})
    if given.out:
        given.out.write_text(answer, encoding="utf-8")
    else:
        print(answer)


if __name__ == "__main__":
    main()
