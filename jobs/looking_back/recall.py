"""A recall: what held lots touched or may have touched, load by load, until the owner settles each.

Nothing is written when a lot is held: what it touched is worked out, and what was decided of each is kept.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.timezone import localtime

from jobs.looking_back.reach import Reached, reached_by
from jobs.models import RecallSettled
from studio.house.clock import now
from studio.house.models import Person
from studio.kit.asking import among
from studio.kit.errors import DaybookError
from studio.kit.units import show_stock
from studio.stockroom.lots.keeping import Touched
from studio.stockroom.models import Lot, LotEvent


class NotToSettle(DaybookError):
    """Something that no held lot touched, or of which nothing was said."""


#: a lot, and of what it touched the run, the trial and the load
Subject = tuple[int, int | None, int | None, str]


@dataclass(frozen=True, kw_only=True)
class RecallItem:
    """A thing that a held lot touched, and what was decided of it; None: nothing yet."""

    reached: Reached
    settled: RecallSettled | None = None

    @property
    def lot(self) -> Lot:
        return self.reached.lot

    @property
    def name(self) -> str:
        """Return its name in a form: run-7-r1l2."""
        found = self.reached
        kind, pk = ("run", found.run.pk) if found.run is not None else ("trial", found.trial.pk if found.trial else 0)
        return f"{kind}-{pk}-{found.part}"

    @property
    def is_open(self) -> bool:
        """Say whether it is to be settled: what only stands on a ticket is not; its ticket is overtaken."""
        return self.settled is None and not self.reached.planned

    @property
    def panes(self) -> str:
        return ", ".join(pane.label for pane in self.reached.panes)

    @property
    def address(self) -> str:
        """Return where helper and owner see it: the run's page, or the trial's."""
        found = self.reached
        if found.run is not None:
            return reverse("jobs:run", args=[found.run.pk])
        return reverse("recipes:trial", args=[found.trial.number]) if found.trial is not None else ""

    @property
    def words(self) -> str:
        """Return it without its customer: “Job 4, Ticket 4-1, load 2: Silver part on panes 1.4, 1.5 (6.1 g); recorded”.
        """
        found = self.reached
        what = "cut from it" if found.is_glass else ", ".join(found.mixes)
        on = f"{'' if found.is_glass else 'on '}panes {self.panes}" if self.panes else ""
        said = " ".join(filter(None, (what, on)))
        where = ", ".join(filter(None, (found.name, found.load)))
        amount = show_stock(found.amount, found.unit)
        return f"{where}{': ' if said else ''}{said} ({amount}); {found.standing}"


def recall_of(lots: Sequence[Lot]) -> list[RecallItem]:
    """Return what lots touched, may have touched or are to be taken for, with what was decided of each.

    What was decided counts until the lot is held again, or goes into more of it. Queries grow with the depth of
    nesting, not with rows.
    """
    if not lots:
        return []
    held_at: dict[int, datetime] = {}
    holdings = LotEvent.objects.filter(kind=LotEvent.Kind.HELD).order_by("at")
    for event in among(holdings, "lot_id", (lot.pk for lot in lots)):
        held_at[event.lot_id] = event.at
    decided: dict[Subject, RecallSettled] = {}
    for row in among(RecallSettled.objects.select_related("by").order_by("pk"), "lot_id", (lot.pk for lot in lots)):
        decided[row.lot_id, row.run_id, row.trial_id, row.part] = row
    reached = reached_by(lots)
    return [_item(found, decided, held_at.get(lot.pk)) for lot in lots for found in reached[lot.pk]]


def _item(found: Reached, decided: dict[Subject, RecallSettled], held_at: datetime | None) -> RecallItem:
    run, trial = found.run, found.trial
    row = decided.get((found.lot.pk, run.pk if run else None, trial.pk if trial else None, found.part))
    since = max(filter(None, (held_at, found.at)), default=None)
    return RecallItem(reached=found, settled=row if row is not None and (since is None or row.at >= since) else None)


def held_lots() -> list[Lot]:
    return list(Lot.objects.filter(state=Lot.State.HELD).select_related("material", "level"))


def unsettled() -> list[tuple[Lot, list[RecallItem]]]:
    """Return the held lots with what each touched and nobody settled yet."""
    found: dict[int, list[RecallItem]] = defaultdict(list)
    lots = held_lots()
    for item in recall_of(lots):
        if item.is_open:
            found[item.lot.pk].append(item)
    return [(lot, found[lot.pk]) for lot in lots if lot.pk in found]


def touched_by(lot: Lot) -> list[Touched]:
    """Return what a lot touched or may have touched, for its own page."""
    return [
        Touched(words=item.words, address=item.address, stands_open=item.is_open, settled=_settled_words(item.settled))
        for item in recall_of([lot])
    ]


def _settled_words(row: RecallSettled | None) -> str:
    if row is None:
        return ""
    return f"Settled {date_format(localtime(row.at), 'j M Y')} by {row.by.name}: {row.decided}"


@transaction.atomic
def settle(*, key: UUID, lot: Lot, names: Iterable[str], decided: str, by: Person) -> list[RecallSettled]:
    """Note what was decided of things that a held lot touched, by their names in the form; a key counts once.

    Raises NotToSettle for a lot that is not held, for what it did not touch, and where nothing was said.
    """
    lot = Lot.objects.select_for_update(of=("self",)).select_related("material", "level").get(pk=lot.pk)
    known = RecallSettled.objects.filter(key=key).first()
    if known is not None:
        return [known]
    if not lot.is_held:
        raise NotToSettle(f"{lot} is not held: there is nothing to settle.", "decided")
    if not decided.strip():
        raise NotToSettle("Say what was decided: remade, looked at and sound, taken back.", "decided")
    chosen, items = list(dict.fromkeys(names)), {item.name: item for item in recall_of([lot]) if item.is_open}
    if not chosen:
        raise NotToSettle("Tick what this settles.", "what")
    if any(name not in items for name in chosen):
        raise NotToSettle("Something that you ticked is settled already, or was not touched: look again.", "what")
    rows = []
    for at, name in enumerate(chosen):
        found = items[name].reached
        rows.append(RecallSettled.objects.create(
            key=key if not at else UUID(int=(key.int + at) % 2 ** 128), lot=lot, run=found.run, trial=found.trial,
            part=found.part, decided=decided.strip()[:200], at=now(), by=by,
        ))
    return rows
