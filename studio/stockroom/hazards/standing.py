"""How long ammoniacal silver has stood: clocks that only being made safe stops. Pure: no Django.

Ammoniacal silver turns explosive on standing. Its clock starts at the first moment a silver salt and ammonia meet: when
a mix that holds both is mixed; for two keeping stocks that meet on the pane or in the gun, at the first spraying.
Times are when something was *done*, not when it was entered.

It is amber after an hour and past its limit after two (the one published figure found: a histology laboratory's guide
to ammoniacal silver stain), or after what the studio sets, never more than four; and never past the end of the working
hours of the day it was begun on. Begun after hours, it has two hours at most.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta, tzinfo

from studio.kit.working_hours import LIMIT_MINUTES, MOST_LIMIT_MINUTES
from studio.stockroom.hazards.classes import is_ammoniacal_silver

AMBER_MINUTES = 60
AFTER_HOURS_MINUTES = 120

MIXED, SPRAYED = "mixed", "sprayed"
FRESH, AMBER, RED = "fresh", "amber", "red"
#: what a making safe may have treated
TREATED = ("leftovers", "first rinse", "guns", "hoses", "nozzles", "filters", "trays", "rags")
#: what every making safe says was treated, or that there was none; of a bottle, what is left in it alone
OF_A_BOTTLE, OWED, OWED_AFTER_SPRAYING = TREATED[:1], TREATED[:2], TREATED[:5]

#: what to do about what stands past its limit: told to everybody, so it holds for whoever finds it dried
PAST_ITS_LIMIT = (
    "It may explode. Do not touch what has dried: clear the area and call competent help. Only where nothing has "
    "dried, make the wet leftovers safe now by the written procedure."
)

#: from when to when somebody works on a day; None: nobody does
Hours = tuple[time, time] | None


@dataclass(frozen=True, kw_only=True)
class Limit:
    """How long ammoniacal silver may stand here. hours: of Monday to Sunday, in the studio's own zone."""

    minutes: int = LIMIT_MINUTES
    hours: Sequence[Hours] = (None,) * 7
    zone: tzinfo = UTC

    def alarm_from(self, start: datetime) -> datetime:
        """Return when the alarm of something begun at a moment begins."""
        start = start.astimezone(UTC)
        local = start.astimezone(self.zone)
        most = min(self.minutes, MOST_LIMIT_MINUTES)
        hours = self.hours[local.weekday()]
        if hours is None or local.time() >= hours[1]:
            return start + timedelta(minutes=min(most, AFTER_HOURS_MINUTES))
        end = datetime.combine(local.date(), hours[1], self.zone).astimezone(UTC)
        return min(start + timedelta(minutes=most), end)


@dataclass(frozen=True, kw_only=True)
class Start:
    """A moment at which a silver salt and ammonia met. key: what a making safe names it by."""

    key: str
    what: str
    at: datetime
    began: str = MIXED


@dataclass(frozen=True, kw_only=True)
class MadeSafe:
    """A making safe: the keys of what it covers, and when it was done."""

    covers: frozenset[str]
    at: datetime


@dataclass(frozen=True, kw_only=True)
class Clock:
    """What still stands: since when, for how many whole minutes, in which colour, and from when on there is alarm."""

    start: Start
    minutes: int
    colour: str
    alarm_from: datetime
    now: datetime = field(compare=False)

    @property
    def alarms(self) -> bool:
        return self.colour == RED

    @property
    def amber_from(self) -> datetime:
        return min(self.start.at + timedelta(minutes=AMBER_MINUTES), self.alarm_from)

    @property
    def tone(self) -> str:
        """Return which of the studio's tones its colour is."""
        return {FRESH: "", AMBER: "attention", RED: "danger"}[self.colour]

    @property
    def word(self) -> str:
        """Return its colour in words: colour alone says nothing."""
        return {FRESH: "fresh", AMBER: "make it safe soon", RED: "past its limit"}[self.colour]

    @property
    def what_to_do(self) -> str:
        """Return what to do at its age; nothing special before its limit."""
        return PAST_ITS_LIMIT if self.alarms else ""


def none_of(part: str) -> str:
    """Return what a making safe says of a part there was nothing of."""
    return f"{part}: none"


def unsaid_of(treated: Iterable[str], owed: Iterable[str]) -> list[str]:
    """Return what of the owed a making safe neither treated nor said there was none of, or said both of."""
    said = set(treated)
    return [part for part in owed if (part in said) == (none_of(part) in said)]


@dataclass(frozen=True, kw_only=True)
class Mix:
    """A mix with the classes of all that is in it, and when it was mixed."""

    key: str
    what: str
    classes: frozenset[str]
    at: datetime


@dataclass(frozen=True, kw_only=True)
class Spraying:
    """The first spraying of stocks that meet on the pane, each with its classes, and when it was."""

    key: str
    what: str
    stocks: tuple[frozenset[str], ...]
    at: datetime


def starts_of(mixes: Iterable[Mix], sprayings: Iterable[Spraying] = ()) -> list[Start]:
    """Return the clocks that start: of each ammoniacal mix, and of stocks that are ammoniacal only together.

    A stock that is ammoniacal by itself was mixed before it was sprayed: that mix has the clock.
    """
    starts = [Start(key=mix.key, what=mix.what, at=mix.at) for mix in mixes if is_ammoniacal_silver(mix.classes)]
    for spraying in sprayings:
        alone = any(is_ammoniacal_silver(stock) for stock in spraying.stocks)
        if not alone and is_ammoniacal_silver(frozenset().union(*spraying.stocks)):
            starts.append(Start(key=spraying.key, what=spraying.what, at=spraying.at, began=SPRAYED))
    return starts


def open_clocks(
    starts: Iterable[Start], makings_safe: Iterable[MadeSafe], limit: Limit, now: datetime,
) -> list[Clock]:
    """Return what still stands, the longest first: only a making safe that names a start, and no earlier, stops it."""
    stopped = list(makings_safe)
    running = [start for start in starts
               if not any(start.key in safe.covers and safe.at >= start.at for safe in stopped)]
    return sorted((clock_of(start, limit, now) for start in running), key=lambda clock: clock.start.at)


def clock_of(start: Start, limit: Limit, now: datetime) -> Clock:
    """Return how something that stands since its start reads at a moment."""
    alarm = limit.alarm_from(start.at)
    minutes = max(int((now - start.at).total_seconds() // 60), 0)
    colour = RED if now >= alarm else AMBER if minutes >= AMBER_MINUTES else FRESH
    return Clock(start=start, minutes=minutes, colour=colour, alarm_from=alarm, now=now)
