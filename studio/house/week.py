"""Who works when: the settings of the week as they count, also before anybody saved them, and the hours of each day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from studio.house.clock import today
from studio.house.models import House, HouseRates
from studio.house.week_models import HANDS, STUDIO, DayApart, StudioWeek
from studio.kit.public_holidays import public_holidays
from studio.kit.working_hours import DAYS, Spells, parse_spells, show_spells

#: when a day begins where nobody said, and the break in a long one
BEGINS, BREAK = time(8, 30), (time(12, 30), time(13))
#: spells of a day in minutes from midnight
MinuteSpells = tuple[tuple[int, int], ...]


def the_week() -> StudioWeek:
    """Return the settings of the week; before they were ever saved, those that the studio's own settings suggest."""
    return StudioWeek.objects.first() or _started()


def _started() -> StudioWeek:
    """Return settings of the studio's working hours, filled up to a bench day, on as many hands and benches."""
    house, rates = House.objects.first(), HouseRates.known_on(today())
    minutes = int(rates.bench_day_minutes) if rates else 420
    benches, hands = (rates.benches, rates.hands) if rates else (1, 1)
    week = StudioWeek(benches="\n".join(f"Bench {at}" for at in range(1, benches + 1)))
    known = house.working_hours if house else []
    if not any(known):
        known = [(BEGINS, time(23, 59))] * 5 + [None] * 2
    for day, hours in zip(DAYS, known, strict=True):
        shown = show_spells(_filled(hours, minutes)) if hours else ""
        setattr(week, f"owner_{day}", shown)
        setattr(week, f"helper_{day}", shown if hands > 1 else "")
    return week


def _filled(hours: tuple[time, time], minutes: int) -> Spells:
    """Return a day's hours of so many minutes at most, with a break at noon where it is long."""
    begins, ends = _minute(hours[0]), _minute(hours[1])
    low, high = map(_minute, BREAK)
    if begins <= low - 60 and begins + minutes > low + 60 and ends > high + 60:
        return ((hours[0], BREAK[0]), (BREAK[1], _clock(min(ends, begins + minutes + high - low))))
    return ((hours[0], _clock(min(ends, begins + minutes))),)


def _minute(at: time) -> int:
    return at.hour * 60 + at.minute


def _clock(minute: int) -> time:
    return time(min(minute, 1439) // 60, min(minute, 1439) % 60)


@dataclass(frozen=True, kw_only=True)
class DayHours:
    """One day: each person's spells in minutes from midnight, and why it differs from other weeks ("": it does not)."""

    day: date
    spells: dict[str, MinuteSpells]
    because: str = ""

    @property
    def is_open(self) -> bool:
        return any(self.spells.values())


def hours_of(week: StudioWeek, apart: Sequence[DayApart], day: date) -> DayHours:
    """Return the hours of one day. apart: the days that differ, in the order in which they were made."""
    holiday = public_holidays(week.country, week.region, day.year).get(day, "") if week.country else ""
    on_day = [each for each in apart if each.first_on <= day <= each.last_on]
    mine = [each for each in on_day if not each.kept_free]
    spells: dict[str, MinuteSpells] = {}
    because = [holiday] if holiday else []
    for who in HANDS:
        of_day: Spells = () if holiday else week.hours(who, day.weekday())
        # the helper of a studio without one does not come for an extra day
        works = any(week.hours(who, weekday) for weekday in range(7))
        for each in (*(row for row in mine if row.who == STUDIO), *(row for row in mine if row.who == who)):
            of_day = parse_spells(each.spells) if works or each.who == who else ()
        spells[who] = tuple((_minute(begins), _minute(ends)) for begins, ends in of_day)
        for each in on_day:
            if each.kept_free and each.who in (who, STUDIO):
                for begins, ends in parse_spells(each.spells):
                    spells[who] = without(spells[who], _minute(begins), _minute(ends))
    for each in on_day:
        said = each.because or ("kept free" if each.kept_free else "other hours" if each.spells else "day off")
        because.append(said if each.who == STUDIO else f"{each.get_who_display()}: {said}")
    return DayHours(day=day, spells=spells, because=", ".join(dict.fromkeys(because)))


def without(spells: MinuteSpells, begins: int, ends: int) -> MinuteSpells:
    """Return the spells of a day less the hours from one minute of it to another."""
    return tuple(part for low, high in spells for part in ((low, min(high, begins)), (max(low, ends), high))
                 if part[1] > part[0])


def days_from(first: date, count: int) -> list[DayHours]:
    """Return the hours of so many days. Two queries."""
    week, last = the_week(), first + timedelta(days=count - 1)
    apart = list(DayApart.objects.filter(first_on__lte=last, last_on__gte=first).order_by("id"))
    return [hours_of(week, apart, first + timedelta(days=at)) for at in range(count)]


def minute_of(moment: datetime, first: date) -> int:
    """Return the minutes from a day's midnight to a moment, both by the studio's clock, as a wall clock counts them."""
    return (moment.date() - first).days * 1440 + moment.hour * 60 + moment.minute
