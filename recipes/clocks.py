"""The clocks of ammoniacal silver as they are kept: start one, make safe, and say how long each has stood."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import ClassVar
from uuid import UUID

from django.db import transaction

from recipes.models import MakingSafe, SilverClock, Trial
from studio.house.clock import house_zone, now
from studio.house.models import House, Person
from studio.kit.errors import DaybookError
from studio.kit.roles import OWNER
from studio.stockroom.hazards.standing import (
    OWED,
    OWED_AFTER_SPRAYING,
    PAST_ITS_LIMIT,
    TREATED,
    Clock,
    Limit,
    Start,
    clock_of,
    none_of,
    unsaid_of,
)
from studio.stockroom.models import Lot

#: a tablet's clock may go before the server's by so much
_AHEAD = timedelta(minutes=1)


class ClockRefused(DaybookError):
    """A clock that cannot start, or that this making safe cannot stop; nothing was written."""


def limit_of(house: House) -> Limit:
    """Return how long ammoniacal silver may stand in a studio."""
    return Limit(minutes=house.ammoniacal_limit_minutes, hours=house.working_hours, zone=house_zone())


def moment_done(done_at: datetime | None) -> datetime:
    """Return when something was done: now where nobody says otherwise. Raises ClockRefused for what is still to come.
    """
    moment = now()
    if done_at is None or moment < done_at <= moment + _AHEAD:
        return moment
    if done_at > moment:
        raise ClockRefused("That time is still to come: give the time when it was done.", "done_at")
    return done_at


@transaction.atomic
def start_clock(
    *, key: UUID, by: Person, subject: str, what: str, began: str, done_at: datetime | None,
    trial: Trial | None = None, lot: Lot | None = None, earlier: SilverClock | None = None,
) -> SilverClock | None:
    """Start the clock of a mix; None where nothing new stands.

    earlier: the newest clock of the same mix. While it runs it is only ever set back to an earlier time. Once it is
    stopped, what was done before that is a correction of what was made safe; what was done since stands anew.
    """
    known = SilverClock.objects.filter(key=key).first()
    if known is not None:
        return known
    started = moment_done(done_at)
    if earlier is not None:
        if earlier.made_safe is None:
            SilverClock.objects.filter(pk=earlier.pk, started_at__gt=started).update(started_at=started)
            return None
        if started < earlier.made_safe.done_at:
            return None
    return SilverClock.objects.create(
        key=key, trial=trial, lot=lot, subject=subject, what=what[:160], began=began, started_at=started,
        noted_at=now(), noted_by=by,
    )


@transaction.atomic
def make_safe(
    *, key: UUID, by: Person, clocks: Collection[int], procedure: str, treated: Collection[str],
    owed: Collection[str] = OWED, done_at: datetime | None = None,
) -> MakingSafe:
    """Stop the named clocks, and no other; once for each key.

    clocks: their ids. treated: of TREATED, and `none_of` what there was none of; owed: what it must say so of.
    Raises ClockRefused where one is stopped already, or began later than this was done.
    """
    known = MakingSafe.objects.filter(key=key).first()
    if known is not None:
        return known
    done = moment_done(done_at)
    if not clocks:
        raise ClockRefused("Tick each mix that was made safe.", "clocks")
    if not procedure.strip():
        raise ClockRefused("Say by which written procedure it was made safe.", "procedure")
    said = [word for part in TREATED for word in (part, none_of(part)) if word in treated]
    if not said:
        raise ClockRefused("Tick what was treated.", "treated")
    unsaid = unsaid_of(said, owed)
    if unsaid:
        raise ClockRefused(f"Say of each that it was treated, or that there was none: {', '.join(unsaid)}.", "treated")
    # locked one after another: of two people who make the same mix safe, the second is told
    rows = list(SilverClock.objects.select_for_update(of=("self",)).filter(pk__in=clocks).order_by("pk"))
    before = MakingSafe.objects.filter(clocks__in=rows).select_related("by").first()
    if before is not None:
        stopped = ", ".join(row.what for row in rows if row.made_safe_id is not None)
        raise ClockRefused(
            f"{stopped}: {before} at {before.done_at.astimezone(house_zone()):%H:%M} already. Nothing was saved: tick "
            "only what still stands.", "clocks",
        )
    for row in rows:
        if row.started_at - _AHEAD < done < row.started_at:
            done = row.started_at  # typed to the minute
        if done < row.started_at:
            raise ClockRefused(f"{row.what} was {row.get_began_display()} later than that: nothing is made safe before "
                               "it is mixed.", "done_at")
    safe = MakingSafe.objects.create(
        key=key, at=now(), by=by, done_at=done, procedure=procedure.strip()[:200], treated=said,
    )
    SilverClock.objects.filter(pk__in=[row.pk for row in rows]).update(made_safe=safe)
    return safe


def owed_for(sprayed: bool) -> tuple[str, ...]:
    """Return what a making safe says it treated: of what was sprayed, the gear too."""
    return OWED_AFTER_SPRAYING if sprayed else OWED


def keeper(by: Person | None) -> Person | None:
    """Return in whose name a clock is noted: who entered the truth; where a program did, the first owner."""
    return by or Person.objects.filter(role=OWNER).order_by("pk").first()


def till_now(moment: datetime) -> datetime:
    """Return a recorded moment, or now where a clock that was set since has it still to come: no truth is refused."""
    return min(moment, now())


@dataclass(frozen=True, kw_only=True)
class Standing:
    """An open clock as a page shows it. where: the run, trial or lot it is of, and its address."""

    past_its_limit: ClassVar[str] = PAST_ITS_LIMIT

    row: SilverClock
    clock: Clock
    where: str = ""
    address: str = ""


def standing(rows: Iterable[SilverClock], house: House) -> list[Standing]:
    """Return how open clocks read now, the longest first. house may be read late: without a clock it is not."""
    kept = list(rows)
    if not kept:
        return []
    limit, moment = limit_of(house), now()
    return sorted((
        Standing(row=row, clock=clock_of(
            Start(key=str(row.key), what=row.what, at=row.started_at, began=row.began), limit, moment,
        )) for row in kept
    ), key=lambda found: found.clock.start.at)
