"""Timings, to read and never to assert: `make bench`.

    python -m tests.benchmark
"""

from __future__ import annotations

import json
import logging
import os
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from fractions import Fraction
from multiprocessing import get_context
from pathlib import Path

from jobs.calendar.effort import AT_ONCE, TWO_SECONDS
from jobs.calendar.form import asked_of
from jobs.calendar.planning import plan
from jobs.estimating.basis import EdgeFacts, GlassFacts, House, LineFacts
from jobs.estimating.cutting.plans import nest, plan_cutting
from jobs.estimating.estimate import estimate_basis
from jobs.estimating.loads import Pane
from jobs.estimating.price_contents import price_contents
from jobs.estimating.scheduling import BENCH, HANDS, Stretch, Task, schedule
from jobs.estimating.take_off import take_off
from tests.cutting.table import table
from tests.jobs.calendar import studios
from tests.timetables import table as timetables
from tests.worked_cases import basis_of


def timed(name: str, work: Callable[[], object], times: int = 5, clock: Callable[[], float] = time.perf_counter) -> None:
    """Print the shortest. clock: process_time for what a busy machine shall not lengthen."""
    spent = []
    for _ in range(times):
        start = clock()
        work()
        spent.append(clock() - start)
    print(f"{name:<52} {min(spent) * 1000:8.1f} ms")


def main() -> None:
    cases = json.loads((Path(__file__).parent / "jobs" / "estimating" / "worked_cases.json").read_text(encoding="utf-8"))["cases"]
    for case in cases:
        basis = basis_of(case["given"])
        timed(f"estimate: {case['title'][:40]}", lambda basis=basis: estimate_basis(basis))
    basis = basis_of(cases[0]["given"])
    forty = replace(basis, lines=tuple(
        replace(basis.lines[number % 3], number=number + 1) for number in range(40)
    ))
    timed("estimate: forty lines", lambda: estimate_basis(forty))
    timed("what forty lines rest on", lambda: price_contents(estimate_basis(forty)), times=1)
    cutting()
    for studio in (forty_lines, tickets, library):  # each in a process of its own: a process has one studio
        process = get_context("spawn").Process(target=studio)
        process.start()
        process.join()


def cutting() -> None:
    """Forty lines that are really cut, each a size of its own, each plan made anew; and their loads in time."""
    glass = GlassFacts(key="g", name="float", sheet_width_mm=Fraction(2250), sheet_height_mm=Fraction(1605),
                       sheet_cost=Fraction(54))
    panes = [
        Pane(size=take_off(LineFacts(
            number=n, shape="rectangle", width_mm=Fraction(260 + 37 * n % 600), height_mm=Fraction(300 + 53 * n % 700),
            quantity=2, recipe="r", glass="g", edge="e",
        ), EdgeFacts(name="e"), glass), copy=copy)
        for n in range(1, 41) for copy in (1, 2)
    ]
    house = House(trim_mm=Fraction(10), clearance_mm=Fraction(2))

    def anew(some: list[Pane]) -> None:
        nest.cache_clear()
        plan_cutting(some, glass, house)

    timed("cutting plan: forty sizes, two of each", lambda: anew(panes))
    timed("cutting plan: four sizes, with patterns", lambda: anew(panes[:8]))
    table(each=4)
    stretches = [
        Stretch(chain, 40, 60, (Task(HANDS, 0, 10), Task(HANDS, 35, 5), Task(BENCH, 0, 40)))
        for chain in range(24) for _ in range(4)
    ]
    timed("timetable: 24 loads of four stretches", lambda: schedule(stretches, {HANDS: 2, BENCH: 2}))
    print(timetables.table([timetables.measured(order) for order in timetables.orders(timetables.ORDERS)]))
    thirty = asked_of(studios.studio(30, 30))
    for name, effort in (("first come", AT_ONCE), ("the two-second answer", TWO_SECONDS)):
        timed(f"calendar: thirty jobs, {name}", lambda effort=effort: plan(thirty, effort), times=1, clock=time.process_time)


@contextmanager
def own_studio() -> Iterator[None]:
    """Give this process an empty studio in a folder that is thrown away."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ.update(DAYBOOK_DATA=folder, DJANGO_SETTINGS_MODULE="studio.settings")
        os.environ.pop("DATABASE_URL", None)
        import django
        from django.core.management import call_command

        django.setup()
        call_command("migrate", verbosity=0)
        yield


def forty_lines() -> None:
    """An order of forty lines: its letter read, the page painted, a price while somebody types, the save."""
    with own_studio():
        from django.test import Client

        from jobs.orders.reading.reader import read_letter
        from tests import builders
        from tests.jobs.orders.test_order_page import LIVE, typed

        owner = builders.person("maud", "owner")
        builders.rates()
        shop = builders.Workshop(owner)
        letter = "\n".join(f"2 @ {300 + 5 * at} x 400 mm" for at in range(40))
        timed("forty lines: the letter read", lambda: read_letter(letter))
        client = Client(SERVER_NAME="127.0.0.1")
        client.force_login(owner)
        lines = [{"size_text": f"{300 + 5 * at} x 400 mm"} for at in range(40)]
        sent = typed(shop, *lines)
        saved = client.post("/jobs/new/", sent)["Location"]
        timed("forty lines: the page painted", lambda: client.get(f"{saved}order/"))
        timed("forty lines: a line drawn while typing",
              lambda: client.post("/jobs/price-now/", {**sent, "drawn": "lines-20"}, headers=LIVE))
        timed("forty lines: the price while typing", lambda: client.post("/jobs/price-now/", sent, headers=LIVE))
        timed("forty lines: saved", lambda: client.post("/jobs/new/", {**sent, "key": str(builders.key())}), times=2)


def tickets() -> None:
    """The papers of the demo's eight panes in three loads, and of ten mirrors of two finishes; CPU time."""
    with own_studio():
        from jobs.models import Job
        from jobs.work.ticket_paper import render_ticket
        from jobs.work.ticketing import fresh_ticket
        from studio.house.models import Person
        from studio.whole.book.load import load_file
        from tests.jobs.work.ten_mirrors import ten_mirrors
        from tests.whole.test_book import BOOK

        logging.getLogger("weasyprint").setLevel(logging.ERROR)
        load_file(BOOK)
        owner = Person.objects.get(role="owner")
        for name, job in (("eight panes", Job.objects.get(number=4)), ("ten mirrors", ten_mirrors(owner))):
            ticket = fresh_ticket(job=job, by=owner)
            timed(f"ticket on paper, CPU: {name}", lambda ticket=ticket: render_ticket(ticket), 3, time.process_time)


def library() -> None:
    """Search and compare among 5,000 trials, in a studio of its own."""
    with own_studio():
        from django.test import Client

        from recipes.finding import remember_what_has_none
        from recipes.models import Trial, TrialChange
        from recipes.trials.changing import Change
        from studio.whole.find.everything import everything
        from studio.whole.find.wanted import read_wanted
        from tests import builders

        owner = builders.person("maud", "owner")
        builders.house()
        builders.rates()
        shop = builders.Workshop(owner)
        builders.trial(shop.recipe, owner, Change(step=3, part=1, what="strength", value="2"))
        first = Trial.objects.values().get()
        Trial.objects.bulk_create([
            Trial(**{k: v for k, v in first.items() if k not in ("id", "number", "form_key", "score")}, number=number,
                  form_key=builders.key(), score=number % 11) for number in range(2, 5001)
        ])
        TrialChange.objects.bulk_create([
            TrialChange(trial_id=pk, step=3, part=part, what=what, value=str(1 + (pk * factor) % spread))
            for pk in Trial.objects.filter(number__gt=1).values_list("pk", flat=True)
            for part, what, factor, spread in ((0, "dwell_minutes", 7, 9), (1, "strength", 3, 5), (2, "strength", 5, 4))
        ])
        timed("words of 5,000 trials, written once", remember_what_has_none, times=1)
        for wanted in ("still", "double strength", "dwell 7 min", "trial 4321", "nothing so called"):
            timed(f"find “{wanted}” among 5,000 trials", lambda wanted=wanted: everything(read_wanted(wanted), runs_desk=True))
        client = Client(SERVER_NAME="127.0.0.1")
        client.force_login(owner)
        for name, address in (("list of trials", "/finishes/trials/"), ("a trial", "/finishes/trials/4321/"),
                              ("eight side by side", "/finishes/compare/?" + "&".join(f"of={n}" for n in range(1, 9))),
                              ("one change at a time, 5,000", "/finishes/plain-silver/one-change/")):
            timed(f"page: {name}", lambda address=address: client.get(address), times=2)


if __name__ == "__main__":
    main()
