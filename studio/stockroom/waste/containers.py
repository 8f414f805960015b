"""Waste containers: what may go in, what went in, what it holds, and handing it over.

What goes in is told by its source: a run's first rinse is ammoniacal until its run was made safe, whoever ticks what;
ticked classes are added to the source's. Only a record of making safe says that something was made safe. What is in no
records is said by who puts it in: which classes, only water, or that its data sheet was read and none apply.

A silvering bath met on the pane already, so that what is silvering's own in
it does not stop against itself or another such bath.

Limits are those of the local permit, entered by the owner; nothing here claims compliance with any rule.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from studio.house.clock import now
from studio.house.models import Person
from studio.kit.locks import check_opened, differing
from studio.kit.rounding import plain
from studio.stockroom.hazards.classes import REACTS_AS, is_ammoniacal_silver, with_implied
from studio.stockroom.hazards.meeting import OF_SILVERING, Thing, meet
from studio.stockroom.hazards.pairs import DangerousPair
from studio.stockroom.ledger import LedgerError
from studio.stockroom.materials import storage_findings, stored_materials
from studio.stockroom.models import Posting, WasteContainer, WasteEntry
from studio.stockroom.places import containers_standing, make_place, standing_as
from studio.stockroom.storage import StoredTogether, WrongPlace
from studio.stockroom.waste.sources import Source, find_source, lock_source, source_of

#: at or beyond these a liquid waste is corrosive (40 CFR 261.22, D002): it counts as acid or caustic
ACID_PH, CAUSTIC_PH = Decimal(2), Decimal("12.5")
#: what makes ammoniacal silver of what lies there
_AMMONIACAL = frozenset({"silver_salt", "silver_chloride", "ammonia", "ammonium", "caustic"})


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
        cautions=tuple(pair for pair, stops in pairs_of(rows) if not stops),
    )


def pairs_of(entries: Iterable[WasteEntry]) -> list[tuple[DangerousPair, bool]]:
    """Return the pairs in what went in, each with whether it stops: what one bath brought together only cautions.

    A container holds mixed liquids: each class in it meets every other, in one entry too, whatever bottle it came from,
    and caustic frees ammonia from all ammonium there is. Silvering's own leniency ends at the bench.
    """
    rows = list(entries)
    by_hand = _things(code for row in rows for code in set(row.reacts_as) - set(row.met_at_bench))
    at_bench = _things(code for row in rows for code in set(row.reacts_as) & set(row.met_at_bench))
    stopping = {met.pair.name for met in meet(by_hand, "waste", onto=[*at_bench, *map(replace, by_hand)]) if met.stops}
    return [(met.pair, met.pair.name in stopping) for met in meet([*by_hand, *at_bench], "waste")]


def _things(classes: Iterable[str]) -> list[Thing]:
    """Return a thing for each class, once."""
    return [Thing(name=REACTS_AS[code], classes=frozenset({code})) for code in sorted(set(classes))]


def _new_stops(present: Iterable[WasteEntry], coming: WasteEntry) -> list[DangerousPair]:
    """Return the pairs that stop and that something coming brings together, in itself or with what lies there."""
    lying, added = list(present), _things(coming.reacts_as)
    there = _things(code for row in lying for code in row.reacts_as)
    brought = {met.pair.name for met in meet(added, "waste", onto=[*there, *map(replace, added)])}
    before = {pair.name for pair, stops in pairs_of(lying) if stops}
    return [pair for pair, stops in pairs_of([*lying, coming])
            if stops and (pair.name in brought or pair.name not in before)]


@transaction.atomic
def save_container(container: WasteContainer, saves: int | None = None) -> WasteContainer:
    """Save a container, new or changed: what it is for, where it stands, what and how much it may take.

    saves: how often it had been saved when the form was opened; None for a program. Raises WasteRefused for a change
    that what stands in it contradicts or a place that it must not be moved to, and ChangedMeanwhile.
    """
    place = None
    if container.pk is not None:
        row = WasteContainer.objects.select_for_update().get(pk=container.pk)
        wanted = {name: getattr(container, name) for name in ("name", "meant_for", "place", "takes", "holds_most_ml")}
        check_opened(row, saves, differing(row, wanted))
        if row.handed_on is not None:
            raise WasteRefused(f"{row} was handed over: what it was stays.")
        container.saves, place = row.saves, row.place
        _refuse_what_it_holds(container)
    container.full_clean()
    container.save()
    if place is None or place.casefold() != container.place.casefold():
        make_place(container.place)
        deadly = [found for found in conflicts_of(container) if found.stops]
        if deadly:
            raise WasteRefused(f"{deadly[0].sentence} Give it another place.", "place")
    return container


def _refuse_what_it_holds(container: WasteContainer) -> None:
    """Refuse limits that what is in a container already does not keep to."""
    held = contents(container.entries.all())
    refused = not_taken(container, held.agents)
    if refused:
        raise WasteRefused(f"{container} holds {', '.join(refused)} already: it takes that until it is handed over.",
                           "takes")
    if container.holds_most_ml is not None and held.volume_ml > container.holds_most_ml:
        raise WasteRefused(f"{container} holds {plain(held.volume_ml)} mL already: no less than that is its limit.",
                           "holds_most")


def conflicts_of(container: WasteContainer) -> list[StoredTogether | WrongPlace]:
    """Return what a container must not share its place with."""
    name = standing_as(container, {}).name
    return [found for found in storage_findings([*stored_materials(), *containers_standing()]) if found.touches([name])]


@transaction.atomic
def put_in(
    *, key: UUID, container: WasteContainer, by: Person, what: str, agents: Iterable[str], volume_ml: Decimal,
    silver_g: Decimal = Decimal(0), none_apply: bool = False, source: str = "", posting: Posting | None = None,
    ph: Decimal | None = None, at: datetime | None = None,
) -> WasteEntry:
    """Record that something went into a container, once for each key.

    agents: the classes that were ticked; those of its source are added. source: the name of the run, trial or lot that
    it comes from; of the posting's, where none is given. none_apply: its data sheet was read, and no class applies.
    Raises WasteRefused with the reason and its source for a pair
    that must not meet, for ammoniacal silver that was not made safe, for a class that the container does not take, for
    more than it may hold, for more silver than its source held, and for a container that was handed over.
    """
    known = WasteEntry.objects.filter(key=key).first()
    if known is not None:
        return known
    name = source or source_of(posting)
    lock_source(name)  # before its container, always
    row = WasteContainer.objects.select_for_update().get(pk=container.pk)
    if row.handed_on is not None:
        raise WasteRefused(f"{row} was handed over: open another.")
    if not what.strip():
        raise WasteRefused("Say what goes in.", "what")
    came = find_source(name)
    if name and came is None:
        raise WasteRefused(f"There is no {name}: choose where it comes from again.", "source")
    told = came.classes if came is not None else frozenset()
    added = told | frozenset(agents) | _by_ph(ph)
    present = list(row.entries.all())
    made_safe = came is not None and bool(came.made_safe)
    _refuse_unknown(came, added, none_apply=none_apply)
    _refuse_not_made_safe(added, came)
    _refuse_not_taken(row, added)
    _refuse_too_much(row, present, volume_ml)
    entry = WasteEntry(
        key=key, container=row, by=by, what=what.strip()[:120], reacts_as=sorted(added), volume_ml=volume_ml,
        met_at_bench=sorted(told & OF_SILVERING) if came is not None and came.is_bath else [], ph=ph,
        silver_g=silver_g, made_safe=made_safe, none_apply=none_apply,
        source=came.name if came is not None else name, posting=posting, at=at or now(),
    )
    stops = _new_stops(present, entry)
    if stops:
        raise WasteRefused(
            " ".join(f"{pair.name} must not meet in {row}: {pair.reason}" for pair in stops), "agents")
    if not made_safe:
        _refuse_ammoniacal(added, present)
    _refuse_too_much_silver(came, silver_g)
    entry.full_clean(validate_unique=False)
    entry.save(force_insert=True)
    check_opened(row, None, "")
    row.save(update_fields=["saves"])
    return entry


def _by_ph(ph: Decimal | None) -> frozenset[str]:
    if ph is None:
        return frozenset()
    return frozenset({"acid"} if ph <= ACID_PH else {"caustic"} if ph >= CAUSTIC_PH else ())


def _refuse_unknown(came: Source | None, added: frozenset[str], *, none_apply: bool) -> None:
    if none_apply and added:
        raise WasteRefused("Either its data sheet was read and none apply, or it reacts as something: say one.",
                           "none_apply")
    if came is None and not added and not none_apply:
        raise WasteRefused("Unknown is not safe. Tick what it reacts as; for only water tick water; or say that its "
                           "data sheet was read and none apply.", "agents")
    if came is not None and came.unknown:
        raise WasteRefused(f"Nobody has said how {', '.join(came.unknown)} reacts: class it before it meets anything.",
                           "source")


def _refuse_not_made_safe(added: frozenset[str], came: Source | None) -> None:
    if is_ammoniacal_silver(added) and came is not None and came.made_safe is False:
        raise WasteRefused(
            f"{came.words} was not made safe yet: what comes from it is ammoniacal, whatever is ticked. Make it safe "
            "by the studio's written procedure and record that there first.", "source",
        )


def _refuse_ammoniacal(added: frozenset[str], present: Iterable[WasteEntry]) -> None:
    """Refuse ammoniacal silver of which no record says that it was made safe."""
    together = added | frozenset(agent for row in present for agent in row.reacts_as)
    if with_implied(added) & _AMMONIACAL and is_ammoniacal_silver(together):
        why = "" if is_ammoniacal_silver(added) else "With what lies in there it would be ammoniacal silver. "
        raise WasteRefused(
            f"{why}Nothing ammoniacal goes into a closed container before it is made safe, in the same shift, by the "
            "studio's written procedure, and no record says that this was: choose the run, trial or lot it comes from, "
            "where that is recorded.", "source",
        )


def not_taken(row: WasteContainer, classes: Iterable[str]) -> list[str]:
    """Return in words which classes a container does not take; one that names none takes what does not endanger."""
    if not row.takes:
        return []
    return sorted(REACTS_AS[code] for code in frozenset(classes) - with_implied(row.takes) - {"water"})


def _refuse_not_taken(row: WasteContainer, added: frozenset[str]) -> None:
    refused = not_taken(row, added)
    if refused:
        raise WasteRefused(f"{row} takes {', '.join(row.takes_in_words)}: it does not take {', '.join(refused)}.",
                           "agents")


def _refuse_too_much(row: WasteContainer, present: Iterable[WasteEntry], volume_ml: Decimal) -> None:
    if row.holds_most_ml is None:
        return
    room = row.holds_most_ml - sum((entry.volume_ml for entry in present), Decimal(0))
    if volume_ml > room:
        raise WasteRefused(f"{row} may hold {plain(row.holds_most_ml)} mL: {plain(max(room, Decimal(0)))} mL more go "
                           "in, then open another.", "volume")


def _refuse_too_much_silver(came: Source | None, silver_g: Decimal) -> None:
    most = came.most_g if came is not None else None
    if came is None or most is None or not silver_g:
        return
    left = max(most - came.booked_g, Decimal(0))
    if silver_g > left:
        raise WasteRefused(f"{came.words} can have left {plain(left)} g of silver at most, not {plain(silver_g)} g: "
                           "what stands on good panes, was kept or is in a container already is not in it.", "silver")


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
