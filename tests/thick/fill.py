"""Make the demo into a studio of five busy years, or a share of it: `python -m tests.thick.fill 0.1`.

It copies what the demo holds, so that every kind of thing is there as often as five years make it. Most of it is over:
jobs delivered and paid, quotes declined or lapsed, lots used up. The folder is the one that DAYBOOK_DATA names.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from typing import Any

import django

DAYS = 1825
#: of old lots nothing is left
STILL_THERE_DAYS = 100


@dataclass(frozen=True)
class Sizes:
    """How many of each five years make."""

    materials: int = 500
    lots: int = 10_383
    movements: int = 289_047
    issues: int = 1_007
    trials: int = 10_009
    jobs: int = 8_051
    customers: int = 900

    def share(self, share: float) -> Sizes:
        return Sizes(**{name: round(number * share) for name, number in vars(self).items()})


def fill(sizes: Sizes, say: Callable[[str], None] = print) -> None:
    """Fill the studio that this process has: the demo, as it was loaded. In one transaction."""
    from django.db import transaction

    with transaction.atomic():
        Filling(sizes, say).all()


class Filling:
    def __init__(self, sizes: Sizes, say: Callable[[str], None]) -> None:
        from tests.thick.copies import Copying

        self.sizes, self.say = sizes, say
        self.copying = Copying()
        self.random = random.Random(17)
        #: what became of the demo's materials, solutions and recipes in each further set of them
        self.catalogues: list[Mapping[Any, Any]] = [{}]
        self.issues: list[Mapping[Any, Any]] = [{}]
        self.shelves: list[Shelf] = []

    def all(self) -> None:
        for name, part in (("materials and recipes", self.library), ("the shelf", self.shelf),
                           ("trials", self.trials), ("jobs", self.jobs), ("what is used up", self.used_up),
                           ("the rest", self.rest)):
            part()
            self.say(f"  {name} written")

    def library(self) -> None:
        from recipes.models import (
            Finish,
            FinishPicture,
            Ingredient,
            Part,
            RecipeVersion,
            Solution,
            SolutionVersion,
            Step,
            VersionEvent,
        )
        from studio.stockroom.models import Material
        from tests.thick.copies import Sheaf, after_own_keys

        everything = (Material, Solution, SolutionVersion, Ingredient, Finish, FinishPicture, RecipeVersion, Step, Part,
                      VersionEvent)
        catalogue = Sheaf(*(model.objects.all() for model in everything))
        _innermost_first(catalogue.rows(SolutionVersion), catalogue.rows(Ingredient))
        issues = Sheaf(*(model.objects.all() for model in everything[-4:]))
        materials, versions = len(catalogue.rows(Material)), len(issues.rows(RecipeVersion))
        for at in range(2, round(self.sizes.materials / materials) + 1):
            def named(values: dict[str, Any], at: int = at) -> dict[str, Any]:
                return {**values, "code": f"{values['code']}-{at}", "name": f"{values['name']} {at}"}

            self.catalogues.append(self.copying.copy(
                catalogue, Material=named, Solution=named, Finish=named,
                RecipeVersion=lambda values: {**values, "came_from_trial_id": None}))
        self.issues = list(self.catalogues)
        most = max(row["number"] for row in issues.rows(RecipeVersion))
        round_, on = 0, 0
        while len(self.issues) * versions < self.sizes.issues:
            round_ += on == 0

            def later(values: dict[str, Any], round_: int = round_) -> dict[str, Any]:
                return {**values, "number": values["number"] + most * round_, "came_from_trial_id": None}

            known = self.catalogues[on]
            became = self.copying.copy(issues, known={**known}, RecipeVersion=later)
            self._withdraw(issues, became)
            self.issues.append(became)
            on = (on + 1) % len(self.catalogues)
        self.copying.write(Material, Solution, SolutionVersion, Ingredient)
        self.copying.close()
        self.copying.write(Finish, FinishPicture, RecipeVersion, Step, Part, VersionEvent)
        after_own_keys(*everything)

    def _withdraw(self, issues: Any, became: Mapping[Any, Any]) -> None:
        """An earlier issue is withdrawn: one of a finish is in use."""
        from recipes.models import RecipeVersion, VersionEvent

        kinds: dict[int, set[str]] = {}
        for row in issues.rows(VersionEvent):
            kinds.setdefault(row["recipe_version_id"], set()).add(row["kind"])
        for row in issues.rows(VersionEvent):
            if kinds[row["recipe_version_id"]] == {"in use"}:
                self.copying.add(VersionEvent, {
                    **row, "id": self.copying.next_pk(VersionEvent), "kind": "withdrawn",
                    "recipe_version_id": became[RecipeVersion, row["recipe_version_id"]]})

    def shelf(self) -> None:
        from recipes.models import MadeLot
        from studio.stockroom.models import Delivery, Lot, LotEvent, Posting, StockMovement
        from tests.thick.copies import Sheaf, after_own_keys

        own = Posting.objects.filter(kind__in=["receipt", "make-up", "count", "discard"])
        stock = Sheaf(Delivery.objects.all(), Lot.objects.all(), MadeLot.objects.all(), LotEvent.objects.all(), own,
                      StockMovement.objects.filter(posting__in=own))
        self.net = _by_lot(stock.rows(StockMovement))
        sets = max(2, round(self.sizes.lots / len(stock.rows(Lot))) - 1)
        used_per_set = self._uses(sets)
        rows_of_uses = sum(used_per_set[1].values())
        counts = max(0, round((self.sizes.movements - rows_of_uses) / (sets * len(self.net))) - 1) // 2 * 2
        for at in range(sets):
            back = timedelta(days=round(DAYS * (at + 1) / sets))
            # jobs and trials draw from every other set, which is of the demo's own materials
            catalogue = self.catalogues[0] if at % 2 == 0 else self.catalogues[at % len(self.catalogues)]
            need = used_per_set[0]
            times = max([1, *(-(-need[lot] // net) for lot, net in self.net.items() if need[lot])]) if at % 2 == 0 else 1

            old = back > timedelta(days=STILL_THERE_DAYS)

            def lot(values: dict[str, Any], at: int = at, times: Any = times, old: bool = old) -> dict[str, Any]:
                looked_at = {"state": "usable", "hold_reason": ""} if old else {}
                return {**values, **looked_at, "lot_number": f"{values['lot_number']}-{at + 1}",
                        "quantity_received": values["quantity_received"] * times,
                        "cost_with_carriage": values["cost_with_carriage"] * times}

            became = self.copying.copy(
                stock, -back, catalogue, Lot=lot,
                LotEvent=lambda values, old=old: None if old and values["kind"] == "held" else values,
                StockMovement=lambda values, times=times: {**values, "quantity": values["quantity"] * times})
            shelf = Shelf(back, became, Counter({became[Lot, pk]: net * times for pk, net in self.net.items()}))
            self.shelves.append(shelf)
            self._counted(shelf, stock, counts)
        self.order_of_stock = (Delivery, Lot, MadeLot, LotEvent, Posting, StockMovement)
        self.copying.write(Delivery, Lot, Posting, StockMovement, MadeLot, LotEvent)
        after_own_keys(*self.order_of_stock)

    def _uses(self, sets: int) -> tuple[Counter[int], Counter[str]]:
        """Return what is taken at most of each lot of one set by trials and jobs, and how many movements of each."""
        from studio.stockroom.models import StockMovement

        need: Counter[int] = Counter()
        rows: Counter[str] = Counter()
        drawing = max(1, (sets + 1) // 2)
        for kind, each in (("trial", self.sizes.trials / 8), ("run", self.sizes.jobs / 1.2)):
            moved = list(StockMovement.objects.filter(posting__kind=kind).values())
            # whichever job it is, no lot gives more than to the one that takes most of it
            most: Counter[int] = Counter()
            for row in moved:
                most[row["lot_id"]] = max(most[row["lot_id"]], -row["quantity"])
            copies = int(each / drawing) + 2
            rows[kind] += round(each * (55 if kind == "trial" else 11.5))
            for lot, quantity in (_by_lot(moved) if kind == "trial" else most).items():
                need[lot] += abs(quantity) * copies
        return need, rows

    def _counted(self, shelf: Shelf, stock: Any, counts: int) -> None:
        """Counts that found a little more, and later a little less."""
        from studio.stockroom.models import Lot, Posting, StockMovement

        posting = stock.rows(Posting)[0]
        received = {row["lot_id"]: row for row in stock.rows(StockMovement) if row["kind"] in ("receipt", "make-up in")}
        for count in range(counts):
            pk = self.copying.next_pk(Posting)
            self.copying.add(Posting, {**posting, "id": pk, "key": self.copying.key(), "kind": "count", "why": "",
                                       "at": posting["at"] - shelf.back + timedelta(days=count + 1)})
            for line, (lot, row) in enumerate(received.items(), start=1):
                self.copying.add(StockMovement, {
                    **row, "id": self.copying.next_pk(StockMovement), "posting_id": pk, "line": line,
                    "kind": "count correction", "note": "", "lot_id": shelf.became[Lot, lot],
                    "quantity": Decimal("0.5") * (-1 if count % 2 else 1)})

    def _of_day(self, back: timedelta) -> Shelf:
        drawn = self.shelves[::2]
        return min(drawn, key=lambda shelf: abs(shelf.back - back))

    def _taken(self, shelf: Shelf) -> Callable[[dict[str, Any]], dict[str, Any]]:
        def taken(values: dict[str, Any]) -> dict[str, Any]:
            shelf.level[values["lot_id"]] += values["quantity"]
            return values

        return taken

    def trials(self) -> None:
        from recipes.models import (
            MakingSafe,
            RecipeVersion,
            SilverClock,
            Trial,
            TrialChange,
            TrialNote,
            TrialPhotograph,
            TrialTiming,
            TrialUse,
        )
        from studio.stockroom.models import Lot, Posting, StockMovement
        from tests.thick.copies import Sheaf, after_own_keys

        mine = Trial.objects.filter(closed_at__isnull=False)
        uses = TrialUse.objects.filter(trial__in=mine)
        postings = Posting.objects.filter(pk__in=uses.values("posting"))
        clocks = SilverClock.objects.filter(trial__in=mine)
        sheaf = Sheaf(
            Trial.objects.filter(pk__in=mine), postings, StockMovement.objects.filter(posting__in=postings),
            *(model.objects.filter(trial__in=mine) for model in (TrialChange, TrialNote, TrialTiming, TrialPhotograph)),
            uses, MakingSafe.objects.filter(pk__in=clocks.values("made_safe")), clocks,
        )
        each = len(sheaf.rows(Trial))
        copies = max(1, round(self.sizes.trials / each) - 1)
        order = (Trial, Posting, StockMovement, TrialChange, TrialNote, TrialTiming, TrialPhotograph, TrialUse,
                 MakingSafe, SilverClock)
        for at in range(copies):
            back = timedelta(days=1 + round(DAYS * at / copies))
            shelf, issue = self._of_day(back), self.issues[at % len(self.issues)]
            known = {key: value for key, value in shelf.became.items() if key[0] is Lot}
            known |= {key: value for key, value in issue.items() if key[0] is RecipeVersion}
            self.copying.copy(
                sheaf, -back, known, StockMovement=self._taken(shelf),
                Trial=lambda values: {**values, "number": self.copying.next_number(Trial)})
            if at % 100 == 99 or at == copies - 1:
                self.copying.write(*order)
                self.copying.close()
        after_own_keys(*order)

    def jobs(self) -> None:
        from jobs.models import Job
        from tests.thick.jobs import OfJobs

        of_jobs = OfJobs(self.copying, self.random)
        of_jobs.customers(self.sizes.customers)
        wanted = self.sizes.jobs - Job.objects.count()
        for at in range(wanted):
            back = timedelta(days=round(DAYS * (wanted - at) / wanted))
            of_jobs.one(back, self._of_day(back), self._taken)
            if at % 200 == 199 or at == wanted - 1:
                of_jobs.write()
        of_jobs.end()

    def used_up(self) -> None:
        from studio.stockroom.models import Lot, Posting, StockMovement
        from tests.thick.copies import after_own_keys

        posting = Posting.objects.filter(kind="discard").values().first()
        assert posting is not None
        costs = {lot.pk: lot.unit_cost for lot in Lot.objects.iterator()}
        for shelf in self.shelves:
            if shelf.back < timedelta(days=STILL_THERE_DAYS):
                continue
            pk = self.copying.next_pk(Posting)
            self.copying.add(Posting, {**posting, "id": pk, "key": self.copying.key(), "why": "past its date",
                                       "at": posting["at"] - shelf.back + timedelta(days=90)})
            for line, (lot, level) in enumerate(shelf.level.items(), start=1):
                if level > 0:
                    self.copying.add(StockMovement, {
                        "id": self.copying.next_pk(StockMovement), "posting_id": pk, "line": line, "lot_id": lot,
                        "kind": "discard", "quantity": -level, "unit_cost": costs[lot], "note": "", "reverses_id": None})
        self.copying.write(Posting, StockMovement)
        after_own_keys(Posting, StockMovement)

    def rest(self) -> None:
        """Counts saved, deliveries ordered, offcuts long used, and the record of changes."""
        from studio.house.models import ChangeRecord
        from studio.stockroom.models import CountLine, CountSheet, Posting, Purchase
        from tests.thick.copies import Sheaf, after_own_keys

        order = (Posting, CountSheet, CountLine, Purchase, ChangeRecord)
        counts = Sheaf(Posting.objects.filter(count_sheet__isnull=False), CountSheet.objects.all(), CountLine.objects.all())
        bought, changes = Sheaf(Purchase.objects.all()), Sheaf(ChangeRecord.objects.all())
        for at in range(round(self.sizes.jobs / 40)):
            back = timedelta(days=round(DAYS * (at + 1) / (self.sizes.jobs / 40)))
            if at % 4 == 0 and counts.rows(Posting):
                self.copying.copy(counts, -back)
            self.copying.copy(bought, -back, Purchase=lambda values: {**values, "cancelled_because": "not delivered"})
            for _ in range(20):
                self.copying.copy(changes, -back)
        self.copying.write(*order)
        after_own_keys(*order)
        assert self.copying.left() == []


@dataclass
class Shelf:
    """One delivery's worth of lots: how long ago, what became of the demo's, and what is left of each."""

    back: timedelta
    became: Mapping[Any, Any]
    level: Counter[int]


def _innermost_first(versions: list[dict[str, Any]], ingredients: list[dict[str, Any]]) -> None:
    """Put solutions before those they go into: they are frozen in that order."""
    inside: dict[int, list[int]] = {}
    for row in ingredients:
        if row["nested_id"] is not None:
            inside.setdefault(row["solution_version_id"], []).append(row["nested_id"])

    def depth(pk: int) -> int:
        return 1 + max((depth(nested) for nested in inside.get(pk, ())), default=0)

    versions.sort(key=lambda row: depth(row["id"]))


def _by_lot(movements: list[dict[str, Any]]) -> Counter[int]:
    found: Counter[int] = Counter()
    for row in movements:
        found[row["lot_id"]] += row["quantity"]
    return found


if __name__ == "__main__":
    django.setup()
    fill(Sizes().share(float(sys.argv[1]) if len(sys.argv) > 1 else 1))
