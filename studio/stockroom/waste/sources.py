"""Where waste comes from: a run, a trial, a lot. The source says what it reacts as and how much silver it can hold.

Rooms above say what their runs and trials leave; what is discarded of a lot is the stockroom's own. A source has a name
that stays: “run 12/1”, “trial 7”, “discard …” and its posting's key.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from math import ceil
from uuid import UUID

from django.db.models import Q, Sum

from studio.kit.asking import fetched
from studio.stockroom.made_here import classes_of_lots, made_safe_at, silver_in, what_is_in
from studio.stockroom.models import Posting, WasteEntry

#: how many of a kind a form offers
RECENT = 20


@dataclass(frozen=True, kw_only=True)
class Source:
    """Where waste comes from.

    silver_g: what it held that stands on no good pane and was not kept; None where nobody can say. made_safe: None
    where no record says it: ammoniacal silver then goes nowhere. safe_since: when it was first made safe, whatever was
    mixed anew since. is_bath: one silvering bath, which met on the pane already. unknown: what of it nobody has
    classed.
    """

    name: str
    words: str
    classes: frozenset[str]
    silver_g: Fraction | None = None
    made_safe: bool | None = None
    safe_since: datetime | None = None
    is_bath: bool = False
    unknown: tuple[str, ...] = ()
    postings: tuple[int, ...] = ()

    @property
    def booked_g(self) -> Decimal:
        """Return the silver that was put into containers from it already."""
        entries = WasteEntry.objects.filter(Q(source=self.name) | Q(source="", posting__in=self.postings))
        return entries.aggregate(total=Sum("silver_g"))["total"] or Decimal(0)

    @property
    def most_g(self) -> Decimal | None:
        """Return the most silver that can come from it, up to the next milligram."""
        return None if self.silver_g is None else Decimal(ceil(max(self.silver_g, Fraction(0)) * 1000)) / 1000


@dataclass(frozen=True, kw_only=True)
class SourceKind:
    """One kind of source: found by its name, offered in a form (name and words), told by a posting.

    lock: locks its row, so that of two who book its silver the second counts what the first booked.
    """

    lock: Callable[[str], None]
    find: Callable[[str], Source | None]
    recent: Callable[[], list[tuple[str, str]]]
    of_posting: Callable[[Posting], str]


def _discarded(name: str) -> Source | None:
    head, _, key = name.partition(" ")
    if head != "discard" or not _is_key(key):
        return None
    posting = Posting.objects.filter(key=key, kind=Posting.Kind.DISCARD).first()
    if posting is None:
        return None
    moved = list(posting.movements.select_related("lot__material"))
    lots = list({movement.lot_id: movement.lot for movement in moved}.values())
    inside, classes, safe_at = what_is_in(lots), classes_of_lots(lots), made_safe_at(lots)
    silver = [(silver_in(movement.lot, inside.get(movement.lot_id)), movement.quantity) for movement in moved]
    known = [-Fraction(quantity) * grams for grams, quantity in silver if grams is not None]
    return Source(
        name=name, words=f"{', '.join(map(str, lots))}, discarded", postings=(posting.pk,),
        made_safe=True if safe_at is not None and safe_at <= posting.at else None,
        classes=frozenset().union(*classes.values()),
        silver_g=sum(known, Fraction(0)) if len(known) == len(silver) else None,
        unknown=tuple(dict.fromkeys([
            *(lot.material.name for lot in lots if lot.material.is_unclassed),
            *(name for made in inside.values() for name in made.unknown),
        ])),
    )


def _lock_discarded(name: str) -> None:
    head, _, key = name.partition(" ")
    if head == "discard" and _is_key(key):
        list(Posting.objects.select_for_update().filter(key=key))


def _is_key(text: str) -> bool:
    try:
        UUID(text)
    except ValueError:
        return False
    return True


def _recently_discarded() -> list[tuple[str, str]]:
    rows = Posting.objects.filter(kind=Posting.Kind.DISCARD).order_by("-at")
    return [
        (f"discard {row.key}", f"{', '.join(str(moved.lot) for moved in row.movements.all())}, discarded: {row.why}")
        for row in fetched(rows[:RECENT], "movements__lot__material")
    ]


#: the stockroom's own; rooms above add theirs
SOURCES: list[SourceKind] = [SourceKind(
    lock=_lock_discarded, find=_discarded, recent=_recently_discarded,
    of_posting=lambda posting: f"discard {posting.key}" if posting.kind == Posting.Kind.DISCARD else "",
)]


def lock_source(name: str) -> None:
    """Lock the row that a source is of, until the transaction ends."""
    for kind in SOURCES if name else ():
        kind.lock(name)


def find_source(name: str) -> Source | None:
    """Return the source of a name; None where there is none."""
    found: Iterable[Source | None] = (kind.find(name) for kind in SOURCES) if name else ()
    return next((source for source in found if source is not None), None)


def recent_sources() -> list[tuple[str, str]]:
    """Return what a form offers, name and words."""
    return [choice for kind in SOURCES for choice in kind.recent()]


def source_of(posting: Posting | None) -> str:
    """Return the name of the source that a posting is of; nothing where it is of none."""
    return next(filter(None, (kind.of_posting(posting) for kind in SOURCES)), "") if posting is not None else ""
