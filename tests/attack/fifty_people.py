"""Fifty people at work at once: `python -m tests.attack.fifty_people [MINUTES] [PEOPLE] [KILLS]`, ten and fifty by default.

On the database the environment names (SQLite without DATABASE_URL), in a demo studio of its own, on loopback. Each reads
the pages of a working day, prices orders as they are typed and discards a drop of water now and then, with a pause as a
person makes one. It prints how many answers there were by page, the median, p95 and p99 of their times, and every answer
of 500 and above; then it audits the studio.

With LONG_WORKERS in the environment so many do long work meanwhile: owners ask for the audit and for the studio's book,
and one worker is killed at each of the KILLS, another begun in its place. What was asked for must end once, all of it.

With WEB_PROCESSES in the environment so many serve; KILLS of them are killed by SIGKILL, evenly over the time. What was
on its way to one that is killed breaks off, and the person sends it again, with the same key, as a browser does; no
discard that was answered may be missing from the ledger, and none may stand there twice.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tests.attack.bad_inputs import Answer, Browser, form_to
from tests.attack.killed_under_posters import KEYS, LOT
from tests.serving import HOME, Environment, manage, own_database, serving, web_processes_of

WORKERS, ASKS, LONG = int(os.environ.get("LONG_WORKERS", "0")), 0.03, ("audit", "book")
_ENDED = """
from collections import Counter
from studio.house.models import LongWork
ended = Counter(LongWork.objects.values_list("state", flat=True))
left = sum(ended[state] for state in ("waiting", "at work"))
print(", ".join(f"{number} {state}" for state, number in sorted(ended.items())) + f", {left} open",
      f"({sum(LongWork.objects.filter(attempt__gt=1).values_list('attempt', flat=True))} attempts of what was begun again)")
"""
PASSWORD = "felt-wheel-and-putty"
PAUSE_SECONDS = (1.0, 5.0)
PAGES = ("/", "/jobs/", "/jobs/1/", "/jobs/new/", "/stockroom/", "/bench/", "/finishes/", "/find/?q=silver", "/jobs/customers/")
_PEOPLE = """
from studio.house.models import Person
for at in range({count}):
    Person.objects.create_user(f"person-{{at}}", password="{password}", role="owner" if at % 2 else "helper")
"""


def percentile(times: Sequence[float], share: float) -> float:
    """Return the time that a share of all were no slower than (nearest rank)."""
    ordered = sorted(times)
    return ordered[min(len(ordered) - 1, max(0, round(share * len(ordered) + 0.5) - 1))]


@dataclass
class _Seen:
    """What fifty people saw: answers by page, the keys of discards that were answered as done, and who had to stop."""

    answers: dict[str, list[Answer]] = field(default_factory=lambda: defaultdict(list))
    discarded: set[str] = field(default_factory=set)
    stopped: list[str] = field(default_factory=list)
    lock: threading.Lock = field(default_factory=threading.Lock)


def _day(address: str, number: int, lot: str, until: float, seen: _Seen) -> None:
    try:
        _at_work(address, number, lot, until, seen)
    except Exception as stopped:  # a thread that ends early would make the rest look well
        seen.stopped.append(f"person-{number}: {stopped!r}"[:200])


def _at_work(address: str, number: int, lot: str, until: float, seen: _Seen) -> None:
    chance = random.Random(number)
    visitor = Browser(address)
    time.sleep(chance.uniform(0, 10))
    visitor.log_in(f"person-{number}", PASSWORD)
    pages = PAGES if number % 2 else [page for page in PAGES if "jobs" not in page]
    while time.monotonic() < until:
        page = chance.choice(pages)
        answers = [(page, visitor.get(page))]
        if page == "/stockroom/" and chance.random() < 0.3:
            where = f"/stockroom/lots/{lot}/discard/"
            form = form_to(visitor.get(f"/stockroom/lots/{lot}/").text, where)
            answers.append(("discard", visitor.post(where, [*form.items(), ("amount", "0.001 mL"), ("why", "a drop")])))
            if answers[-1][1].status == 302:
                seen.discarded.add(form.get("key", ""))
        if WORKERS and number % 2 and chance.random() < ASKS:
            asked = form_to(visitor.get("/going-on/").text, "/going-on/ask/")
            answers.append(("ask for long work", visitor.post("/going-on/ask/", [*asked.items(), ("kind", chance.choice(LONG))])))
        with seen.lock:
            for name, answer in answers:
                seen.answers[name].append(answer)
        time.sleep(chance.uniform(*PAUSE_SECONDS))


class _Workers:
    """The workers of a studio: each that is killed is begun anew."""

    def __init__(self, environment: Environment) -> None:
        self.environment = environment
        self.running = [self._begun() for _ in range(WORKERS)]

    def _begun(self) -> subprocess.Popen[bytes]:
        return subprocess.Popen([sys.executable, "manage.py", "long_work"], cwd=HOME, env=self.environment,
                                stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def kill_one(self) -> None:
        if self.running:
            killed = self.running.pop(0)
            killed.kill()
            killed.wait()
            self.running.append(self._begun())

    def end(self) -> str:
        """Wait until nothing is left to do; return how what was asked for ended."""
        said = ""
        for _ in range(150 if self.running else 0):
            said = manage(self.environment, "shell", "--no-imports", "-c", _ENDED).strip().splitlines()[-1]
            if " 0 open" in said:
                break
            time.sleep(2)
        for worker in self.running:
            worker.terminate()
        for worker in self.running:
            worker.wait(60)
        return said


def main(minutes: float = 10, people: int = 50, kills: int = 0) -> int:
    seen = _Seen()
    with tempfile.TemporaryDirectory() as folder, own_database(Path(folder), "daybook_fifty", "demo") as environment:
        lot = manage(environment, "shell", "--no-imports", "-c",
                     _PEOPLE.format(count=people, password=PASSWORD) + LOT).strip().splitlines()[-1]
        with serving(environment) as (address, server):
            until = time.monotonic() + minutes * 60
            at_work = [threading.Thread(target=_day, args=(address, number, lot, until, seen), daemon=True)
                       for number in range(people)]
            for thread in at_work:
                thread.start()
            workers = _Workers(environment)
            for _ in range(kills):
                time.sleep(minutes * 60 / (kills + 1))
                os.kill(random.choice(web_processes_of(server)), signal.SIGKILL)
                workers.kill_one()
            for thread in at_work:
                thread.join(minutes * 60 + 120)
            done = workers.end()
        broken = sum(not 0 < answer.status < 500 for answers in seen.answers.values() for answer in answers)
        kept = manage(environment, "shell", "--no-imports", "-c", KEYS).split()
        lost, twice = seen.discarded - set(kept), len(kept) - len(set(kept))
        served_by = os.environ.get("WEB_PROCESSES", "1")
        print(f"{people} people, {minutes:g} minutes, web processes: {served_by}, killed: {kills}; {len(seen.discarded)} "
              f"discards answered, {len(lost)} lost, {twice} counted twice; stopped: {seen.stopped or 'nobody'}")
        if WORKERS:
            print(f"long work, {WORKERS} workers, {kills} killed: {done}")
        print(f"{'page':<22}{'answers':>8}{'median':>9}{'p95':>9}{'p99':>9}{'>= 500':>8}")
        for name, answers in sorted(seen.answers.items()):
            times = [answer.seconds for answer in answers]
            print(f"{name:<22}{len(times):>8}" + "".join(f"{percentile(times, share):>8.2f}s" for share in (0.5, 0.95, 0.99))
                  + f"{sum(not 0 < answer.status < 500 for answer in answers):>8}")
        print(manage(environment, "audit").strip())
    return 1 if broken or lost or twice or seen.stopped or (WORKERS and " 0 open" not in done) else 0


if __name__ == "__main__":
    sys.exit(main(*map(float, sys.argv[1:2]), *map(int, sys.argv[2:4])))
