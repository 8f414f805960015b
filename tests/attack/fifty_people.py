"""Fifty people at work at once: `python -m tests.attack.fifty_people [MINUTES] [PEOPLE]`, ten and fifty by default.

On the database the environment names (SQLite without DATABASE_URL), in a demo studio of its own, on loopback. Each reads
the pages of a working day, prices orders as they are typed and discards a drop of water now and then, with a pause as a
person makes one. It prints how many answers there were by page, the median, p95 and p99 of their times, and every answer
of 500 and above; then it audits the studio.
"""

from __future__ import annotations

import random
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

from tests.attack.bad_inputs import Answer, Browser, form_to
from tests.serving import manage, own_database, served

PASSWORD = "felt-wheel-and-putty"
PAUSE_SECONDS = (1.0, 5.0)
PAGES = ("/", "/jobs/", "/jobs/1/", "/jobs/new/", "/stockroom/", "/bench/", "/finishes/", "/find/?q=silver", "/jobs/customers/")
_PEOPLE = """
from studio.house.models import Person
for at in range({count}):
    Person.objects.create_user(f"person-{{at}}", password="{password}", role="owner" if at % 2 else "helper")
from studio.stockroom.models import Lot
print(Lot.objects.filter(material__stock_unit="mL", state="usable", level__on_hand__gt=1000).order_by("-level__on_hand")
      .values_list("pk", flat=True).first())
"""


def percentile(times: Sequence[float], share: float) -> float:
    """Return the time that a share of all were no slower than (nearest rank)."""
    ordered = sorted(times)
    return ordered[min(len(ordered) - 1, max(0, round(share * len(ordered) + 0.5) - 1))]


def _day(address: str, number: int, lot: str, until: float, seen: dict[str, list[Answer]], lock: threading.Lock) -> None:
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
            form = visitor.get(f"/stockroom/lots/{lot}/")
            answers.append(("discard", visitor.post(where, [
                *form_to(form.text, where).items(), ("amount", "0.001 mL"), ("why", "a drop")])))
        with lock:
            for name, answer in answers:
                seen[name].append(answer)
        time.sleep(chance.uniform(*PAUSE_SECONDS))


def main(minutes: float = 10, people: int = 50) -> int:
    seen: dict[str, list[Answer]] = defaultdict(list)
    lock = threading.Lock()
    with tempfile.TemporaryDirectory() as folder, own_database(Path(folder), "daybook_fifty", "demo") as environment:
        lot = manage(environment, "shell", "--no-imports", "-c",
                     _PEOPLE.format(count=people, password=PASSWORD)).strip().splitlines()[-1]
        with served(environment) as address:
            until = time.monotonic() + minutes * 60
            at_work = [threading.Thread(target=_day, args=(address, number, lot, until, seen, lock), daemon=True)
                       for number in range(people)]
            for thread in at_work:
                thread.start()
            for thread in at_work:
                thread.join(minutes * 60 + 120)
        broken = sum(not 0 < answer.status < 500 for answers in seen.values() for answer in answers)
        print(f"{people} people, {minutes:g} minutes\n{'page':<22}{'answers':>8}{'median':>9}{'p95':>9}{'p99':>9}{'>= 500':>8}")
        for name, answers in sorted(seen.items()):
            times = [answer.seconds for answer in answers]
            print(f"{name:<22}{len(times):>8}" + "".join(f"{percentile(times, share):>8.2f}s" for share in (0.5, 0.95, 0.99))
                  + f"{sum(not 0 < answer.status < 500 for answer in answers):>8}")
        print(manage(environment, "audit").strip())
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main(*map(float, sys.argv[1:2]), *map(int, sys.argv[2:3])))
