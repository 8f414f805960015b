"""Waste containers: what may go in, what went in, what it holds, and handing it over.

Limits are those of the local permit, entered by the owner; nothing here claims compliance with any rule.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from studio.house.clock import now
from studio.house.models import Person
from studio.kit.locks import check_opened
from studio.kit.rounding import plain
from studio.stockroom.hazards.classes import REACTS_AS, is_ammoniacal_silver
from studio.stockroom.hazards.pairs import DangerousPair, pairs_met
from studio.stockroom.ledger import LedgerError
from studio.stockroom.models import Posting, WasteContainer, WasteEntry


class WasteRefused(LedgerError):
    """Something that must not go into a container; nothing was saved."""


@dataclass(frozen=True, kw_only=True)
class Contents:
    """What a container holds by its entries."""

    volume_ml: Decimal
    silver_g: Decimal
    agents: frozenset[str]
    cautions: tuple[DangerousPair, ...]

    @property
    def reacts_as(self) -> list[str]:
        """Return in words what it reacts as, in the order of the alphabet."""
        return sorted(REACTS_AS[agent] for agent in self.agents)


@dataclass(frozen=True, kw_only=True)
class ContainerState:
    """How a container stands on a day: what it holds, and how long it is open of the most days that it may be."""

    row: WasteContainer
    contents: Contents
    day: date
    most_days: int | None

    @property
    def days_open(self) -> int:
        return ((self.row.handed_on or self.day) - self.row.opened_on).days

    @property
    def is_open_too_long(self) -> bool:
        return self.row.handed_on is None and bool(self.most_days) and self.days_open > (self.most_days or 0)

    @property
    def open_in_words(self) -> str:
        """Return “open 12 days”, or “was open 12 days” once it was handed over."""
        verb = "open" if self.row.handed_on is None else "was open"
        return f"{verb} {self.days_open} day{'' if self.days_open == 1 else 's'}"


def state_of(row: WasteContainer, entries: Iterable[WasteEntry], day: date, most_days: int | None) -> ContainerState:
    """Return how a container stands on a day, by its entries."""
    return ContainerState(row=row, contents=contents(entries), day=day, most_days=most_days)


def contents(entries: Iterable[WasteEntry]) -> Contents:
    """Return what entries sum to, and the pairs of agents in them that need care."""
    rows = list(entries)
    agents = frozenset(agent for row in rows for agent in row.reacts_as)
    return Contents(
        volume_ml=sum((row.volume_ml for row in rows), Decimal(0)),
        silver_g=sum((row.silver_g for row in rows), Decimal(0)), agents=agents,
        cautions=tuple(pair for pair, stops in pairs_met(agents, agents, "waste") if not stops),
    )


@transaction.atomic
def put_in(
    *, key: UUID, container: WasteContainer, by: Person, what: str, agents: Iterable[str], volume_ml: Decimal,
    silver_g: Decimal = Decimal(0), made_safe: bool = False, posting: Posting | None = None,
    at: datetime | None = None,
) -> WasteEntry:
    """Record that something went into a container, once for each key.

    Raises WasteRefused with the reason and its source for a pair that must not meet, for ammoniacal silver that was
    not made safe, and for a container that was handed over.
    """
    known = WasteEntry.objects.filter(key=key).first()
    if known is not None:
        return known
    row = WasteContainer.objects.select_for_update().get(pk=container.pk)
    added = frozenset(agents)
    if row.handed_on is not None:
        raise WasteRefused(f"{row} was handed over: open another.")
    if not what.strip():
        raise WasteRefused("Say what goes in.", "what")
    if is_ammoniacal_silver(added) and not made_safe:
        raise WasteRefused(
            "Nothing ammoniacal goes into a closed container before it is made safe, in the same shift, by the "
            "studio's written procedure.", "made_safe",
        )
    present = contents(row.entries.all()).agents
    stops = [pair for pair, stops in pairs_met(added | present, added, "waste") if stops]
    if stops:
        raise WasteRefused(" ".join(
            f"{pair.name} must not meet in {row}: {pair.reason} ({pair.source})" for pair in stops), "agents")
    entry = WasteEntry(
        key=key, container=row, by=by, what=what.strip()[:120], reacts_as=sorted(added), volume_ml=volume_ml,
        silver_g=silver_g, made_safe=made_safe, posting=posting, at=at or now(),
    )
    entry.full_clean(validate_unique=False)
    entry.save(force_insert=True)
    check_opened(row, None, "")
    row.save(update_fields=["saves"])
    return entry


def _in_words(row: WasteContainer) -> str:
    """Return a container's state in words, for somebody who saw another."""
    held = contents(row.entries.all())
    parts = [f"{plain(held.volume_ml)} mL with {plain(held.silver_g)} g of silver in it"]
    if row.handed_on is not None:
        parts.append(f"handed to {row.handed_to} on {row.handed_on:%d %b %Y}")
    if row.returned_silver_g is not None:
        parts.append(f"{plain(row.returned_silver_g)} g of silver came back on {row.returned_on:%d %b %Y}")
    return "; ".join(parts)


@transaction.atomic
def hand_over(
    container: WasteContainer, *, on: date, to: str, note: str = "", saves: int | None = None
) -> WasteContainer:
    """Record who took a container and when. Raises WasteRefused, or ChangedMeanwhile when more went in meanwhile."""
    row = WasteContainer.objects.select_for_update().get(pk=container.pk)
    if row.handed_on is not None:
        raise WasteRefused(f"{row} was handed over already.")
    if not to.strip():
        raise WasteRefused("Say who took it.", "handed_to")
    if on < row.opened_on:
        raise WasteRefused("It cannot be handed over before it was opened.", "handed_on")
    check_opened(row, saves, _in_words(row), "Record it again to hand it over as it is now.")
    row.handed_on, row.handed_to, row.note = on, to.strip(), note
    row.full_clean()
    row.save()
    return row


@transaction.atomic
def silver_returned(
    container: WasteContainer, *, on: date, grams: Decimal, saves: int | None = None
) -> WasteContainer:
    """Record what the refiner returned. Raises WasteRefused, or ChangedMeanwhile when somebody recorded it already."""
    row = WasteContainer.objects.select_for_update().get(pk=container.pk)
    if row.handed_on is None or on < row.handed_on:
        raise WasteRefused("Silver comes back only after the container was handed over.", "returned_on")
    check_opened(row, saves, _in_words(row))
    row.returned_on, row.returned_silver_g = on, grams
    row.full_clean()
    row.save()
    return row
