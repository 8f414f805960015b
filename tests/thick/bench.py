"""Thin beside thick: what every page costs in the demo and in a studio of five years, for both roles.

    python -m tests.thick.bench [--share 0.1] [--only WORD] [--papers]

Both studios are kept in a folder (.thick) and are not made again. CPU is that of the process that answers, SQLite's
share with it. Timings, to read: never an assertion.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

HOME = Path(__file__).resolve().parents[2]
KEPT = HOME / ".thick"
PEOPLE = ("maud", "teo")
#: no page is both above so many times thin and above so much CPU; and none above the most, but for those with a limit
TIMES, FREE_MS, MOST_MS = 3, 50, 150
#: what takes more CPU than so many seconds is stopped, and said to have no answer
LONGEST_S, STOPPED = 30, 0


class TooLong(BaseException):
    """An answer that was waited for long enough."""


def _stop(*_: object) -> None:
    raise TooLong


@dataclass(frozen=True)
class Cost:
    """What one answer cost. cpu_ms, wall_ms: the second time it was asked; first_ms: CPU the first time."""

    status: int
    cpu_ms: float
    wall_ms: float
    queries: int
    sent: int
    first_ms: float


def environment(folder: Path) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "SECRET_KEY")}
    return {**kept, "DAYBOOK_DATA": str(folder / ".daybook-demo"), "DJANGO_SETTINGS_MODULE": "studio.settings",
            "PUBLIC_URL": "http://127.0.0.1"}


def studios(share: float) -> dict[str, Path]:
    """Return the folders of the demo and of the thick studio, made where they are not there yet."""
    thin, thick = KEPT / "thin", KEPT / f"thick-{share:g}"
    if not (thin / "made").exists():
        shutil.rmtree(thin, ignore_errors=True)
        thin.mkdir(parents=True)
        for words in (("migrate", "-v0"), ("load_demo",), ("demo_people",)):
            _run(thin, "manage.py", *words)
        (thin / "made").touch()
    if not (thick / "made").exists():
        shutil.rmtree(thick, ignore_errors=True)
        shutil.copytree(thin, thick, ignore=shutil.ignore_patterns("made"))
        start = time.perf_counter()
        _run(thick, "-m", "tests.thick.fill", str(share))
        print(f"the thick studio was written in {time.perf_counter() - start:.0f} s")
        _run(thick, "manage.py", "audit")
        print(f"and audited, {time.perf_counter() - start:.0f} s in all")
        (thick / "made").touch()
    return {"thin": thin, "thick": thick}


def _run(folder: Path, *words: str) -> None:
    subprocess.run([sys.executable, *words], cwd=HOME, env=environment(folder), check=True)


def measure(only: str, papers: bool) -> None:
    """Ask every page of this process's own studio as each of its people, and print the costs as lines of JSON."""
    import django

    django.setup()
    signal.signal(signal.SIGPROF, _stop)
    from django.test import Client

    from studio.house.models import Person
    from tests.pictures import PAPERS
    from tests.thick.pages import PAGES

    for who in PEOPLE:
        client = Client(SERVER_NAME="127.0.0.1", raise_request_exception=False)
        client.force_login(Person.objects.get(username=who))
        client.get("/guides/sizes/")
        for name, address in PAGES.items():
            if only in name and (papers or name not in PAPERS):
                _tell(who, name, lambda address=address, client=client: client.get(address))
        if who == "maud":
            for name, fields in _while_typing(client):
                if only in name:
                    _tell(who, name, lambda fields=fields, client=client: client.post(
                        "/jobs/price-now/", fields, headers={"HX-Request": "true"}))


def _while_typing(client: Any) -> Iterator[tuple[str, dict[str, str]]]:
    """The live price of a line of an enquiry: as it stands, and with a size that nobody typed before."""
    from tests.attack.walk import Form as Sent
    from tests.attack.walk import _Page, with_options

    html = client.get("/jobs/9/order/").content.decode()
    page = _Page("/jobs/9/order/")
    page.feed(html)
    form = max(page.forms, key=lambda form: len(form.fields))
    sent = with_options(html, Sent(pattern="", path="", method="post", fields=tuple(form.fields)))
    fields = dict(sent.as_it_stands)
    yield "price while typing, one line", fields


def _tell(who: str, name: str, ask: Any) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    spent, status, sent = [], STOPPED, 0
    for _ in range(2):
        cpu, wall = time.process_time(), time.perf_counter()
        signal.setitimer(signal.ITIMER_PROF, LONGEST_S)
        try:
            with CaptureQueriesContext(connection) as asked:
                answer = ask()
                sent = sum(len(part) for part in answer.streaming_content) if answer.streaming else len(answer.content)
                status = answer.status_code
        except TooLong:
            status = STOPPED
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
        spent.append((time.process_time() - cpu, time.perf_counter() - wall))
        if status in (403, 404, STOPPED) or spent[0][0] > 5:
            break
    print(json.dumps([who, name, asdict(Cost(
        status=status, cpu_ms=spent[-1][0] * 1000, wall_ms=spent[-1][1] * 1000, queries=len(asked), sent=sent,
        first_ms=spent[0][0] * 1000))]), flush=True)


def costs(folder: Path, only: str, papers: bool) -> dict[tuple[str, str], Cost]:
    """Measure a studio in a process of its own."""
    words = [sys.executable, "-m", "tests.thick.bench", "--measure", "--only", only, *(["--papers"] if papers else [])]
    with tempfile.TemporaryFile("w+") as told:
        subprocess.run(words, cwd=HOME, env=environment(folder), check=True, stdout=told)
        told.seek(0)
        lines = [json.loads(line) for line in told if line.startswith("[")]
    return {(who, name): Cost(**cost) for who, name, cost in lines}


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("--share", type=float, default=1)
    asked.add_argument("--only", default="")
    asked.add_argument("--papers", action="store_true")
    asked.add_argument("--measure", action="store_true")
    given = asked.parse_args()
    if given.measure:
        measure(given.only, given.papers)
        return
    found = {name: costs(folder, given.only, given.papers) for name, folder in studios(given.share).items()}
    table(found["thin"], found["thick"])


def table(thin: dict[tuple[str, str], Cost], thick: dict[tuple[str, str], Cost]) -> None:
    """Print thin beside thick, the dearest first, and mark what is over its limit."""
    from tests.thick.pages import LIMITS

    print(f"{'who':<5} {'page':<30} {'CPU ms thin':>11} {'thick':>9} {'first':>9} {'wall':>9} {'queries':>11} "
          f"{'kB':>13}  limit")
    over = 0
    for (who, name), cost in sorted(thick.items(), key=lambda row: -row[1].cpu_ms):
        before = thin.get((who, name))
        if before is None or (cost.status == before.status and cost.status in (403, 404)):
            continue
        most = LIMITS.get(name, MOST_MS)
        wrong = cost.cpu_ms > most or (name not in LIMITS and cost.cpu_ms > max(FREE_MS, TIMES * before.cpu_ms))
        over += wrong
        status = "" if cost.status in (200, 302) and before.status == cost.status else f" {before.status}/{cost.status}"
        print(f"{who:<5} {name:<30} {before.cpu_ms:>11.1f} {cost.cpu_ms:>9.1f} {cost.first_ms:>9.1f} {cost.wall_ms:>9.1f} "
              f"{f'{before.queries}/{cost.queries}':>11} {f'{before.sent / 1000:.0f}/{cost.sent / 1000:.0f}':>13}  "
              f"{most}{' OVER' if wrong else ''}{status}")
    print(f"{over} over their limit")


if __name__ == "__main__":
    main()
