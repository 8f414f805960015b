"""How long ammoniacal silver has stood: clocks that only being made safe stops. Pure: no Django.

Ammoniacal silver turns explosive on standing. Its clock starts at the first moment a silver salt and ammonia meet: when
a mix that holds both is mixed; for two keeping stocks that meet on the pane or in the gun, at the first spraying.
Times are when something was *done*, not when it was entered.

It is amber after an hour and past its limit after two (the one published figure found: a histology laboratory's guide
to ammoniacal silver stain), or after what the studio sets, never more than four; and never past the end of the working
hours of the day it was begun on. Begun after hours, it has two hours at most.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta, tzinfo

from studio.kit.working_hours import DAYS, LIMIT_MINUTES, MOST_LIMIT_MINUTES

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

    def in_words(self, began: str = MIXED) -> str:
        """Return by when it is made safe, as the alarm has it on any day: “within 2 h of mixing, and before 18:00”.

        began: as a clock began. Days that end at another time, and a shorter limit after hours, are said.
        """
        most, since = min(self.minutes, MOST_LIMIT_MINUTES), {MIXED: "mixing", SPRAYED: "the first spraying"}[began]
        after_hours = min(most, AFTER_HOURS_MINUTES)
        ends = {day: hours[1] for day, hours in zip(DAYS, self.hours, strict=True) if hours is not None}
        if not ends:
            return f"within {_in_hours(after_hours)} of {since}"
        usual = Counter(ends.values()).most_common(1)[0][0]
        others = ", ".join(f"{day.capitalize()} {end:%H:%M}" for day, end in ends.items() if end != usual)
        words = f"within {_in_hours(most)} of {since}, and before {usual:%H:%M}{f' ({others})' if others else ''}"
        return f"{words}; after hours within {_in_hours(after_hours)}" if after_hours < most else words


def _in_hours(minutes: int) -> str:
    hours, rest = divmod(minutes, 60)
    return " ".join(filter(None, (f"{hours} h" if hours else "", f"{rest} min" if rest else "")))


@dataclass(frozen=True, kw_only=True)
class Start:
    """A moment at which a silver salt and ammonia met. key: what a making safe names it by."""

    key: str
    what: str
    at: datetime
    began: str = MIXED


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


def clock_of(start: Start, limit: Limit, now: datetime) -> Clock:
    """Return how something that stands since its start reads at a moment."""
    alarm = limit.alarm_from(start.at)
    minutes = max(int((now - start.at).total_seconds() // 60), 0)
    colour = RED if now >= alarm else AMBER if minutes >= AMBER_MINUTES else FRESH
    return Clock(start=start, minutes=minutes, colour=colour, alarm_from=alarm, now=now)
