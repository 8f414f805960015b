"""Working hours of a day as people write them, “8-17”, and how long ammoniacal silver may stand. Pure: no Django."""

from __future__ import annotations

import re
from datetime import time
from itertools import pairwise

from studio.kit.errors import DaybookError
from studio.kit.typed_numbers import read_whole

_TIME = r"(\d{1,2})(?:\s?[:.h]\s?(\d{2}))?\s*(?:h|o'clock)?\s*([ap]\.?m\.?)?"
_HOURS = re.compile(rf"(?:from\s+)?{_TIME}\s*(?:-|–|—|to|till|until)\s*{_TIME}")
#: a working day under or over so many hours is asked about (common practice, no source)
ASKED_UNDER_HOURS, ASKED_OVER_HOURS = 1, 15

#: how long ammoniacal silver may stand, where the studio sets nothing else, and at most: the one published figure found
#: is two hours (a histology laboratory's guide to ammoniacal silver stain)
LIMIT_MINUTES, MOST_LIMIT_MINUTES = 120, 240

DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


class NoHours(DaybookError):
    """What was typed is no working hours."""


def parse_hours(text: str) -> tuple[time, time] | None:
    """Return from when to when somebody works, “8-17”, “9am to 5pm”; None for nothing typed. Raises NoHours.

    “9-5” ends in the afternoon: nobody works backwards. An hour of two figures, “17-09”, is taken as it stands.
    """
    typed = " ".join(text.split())
    if not typed:
        return None
    found = _HOURS.fullmatch(typed.lower())
    try:
        if found is None:
            raise ValueError
        begins, ends = _clock(*found.groups()[:3]), _clock(*found.groups()[3:])
    except ValueError:
        raise NoHours(f"“{typed}” was not understood as working hours: write for instance 08:30-17:30, or 9am to "
                      "5pm.") from None
    morning = found[3] is None or found[3].startswith("a")
    if ends < begins <= time(12) and morning and found[6] is None and len(found[4]) == 1:
        ends = ends.replace(hour=ends.hour + 12)
    if ends <= begins:
        raise NoHours(f"“{typed}” ends before it begins: write for instance 08:30-17:30.")
    return begins, ends


def _clock(hour: str, minute: str | None, half: str | None) -> time:
    """Return a time of the day, in twelve hours where am or pm says so. Raises ValueError."""
    at = read_whole(hour)
    if half:
        if not 1 <= at <= 12:
            raise ValueError
        at = at % 12 + (12 if half.startswith("p") else 0)
    return time(at, read_whole(minute or "0"))


def minutes_of(hours: tuple[time, time]) -> int:
    """Return how many minutes working hours last."""
    return (hours[1].hour - hours[0].hour) * 60 + hours[1].minute - hours[0].minute


def hours_question(hours: tuple[time, time] | None) -> str:
    """Return what to ask of working hours before they are taken, or ""."""
    if hours is None:
        return ""
    if ASKED_UNDER_HOURS * 60 <= minutes_of(hours) <= ASKED_OVER_HOURS * 60:
        return ""
    return f"That is {show_hours(hours)}, an unusual day: is it meant so?"


def show_hours(hours: tuple[time, time] | None) -> str:
    """Return working hours as they are kept: “08:30-17:30”; nothing for none."""
    return f"{hours[0]:%H:%M}-{hours[1]:%H:%M}" if hours else ""


#: a day is split by breaks into so many spells at most
MOST_SPELLS = 4
Spells = tuple[tuple[time, time], ...]


def parse_spells(text: str) -> Spells:
    """Return the spells of a day, which breaks part: “8-12:30, 13-17”; none for nothing typed. Raises NoHours."""
    parts = [part for part in re.split(r"[,;+&]|\band\b", " ".join(text.split())) if part.strip()]
    spells: list[tuple[time, time]] = []
    for part in parts:
        if (hours := parse_hours(part)) is not None:
            spells.append(_in_the_afternoon(hours) if spells and hours[0] < spells[-1][1] else hours)
    if len(spells) > MOST_SPELLS:
        raise NoHours(f"“{text.strip()}” has {len(spells)} spells: a day has {MOST_SPELLS} at most.")
    for (_, ends), (begins, _) in pairwise(spells):
        if begins < ends:
            raise NoHours(f"“{text.strip()}” begins a spell at {begins:%H:%M}, before the one before it is over: write "
                          "for instance 8-12:30, 13-17.")
    return tuple(spells)


def _in_the_afternoon(hours: tuple[time, time]) -> tuple[time, time]:
    """Return a later spell of a day as it must be meant: of “8-12, 1-5” the second is in the afternoon."""
    begins, ends = hours
    if begins.hour < 12:
        begins = begins.replace(hour=begins.hour + 12)
        ends = ends.replace(hour=ends.hour + 12) if ends <= begins and ends.hour < 12 else ends
    return (begins, ends) if begins < ends else hours


def show_spells(spells: Spells) -> str:
    """Return spells as they are kept: “08:00-12:30, 13:00-17:00”."""
    return ", ".join(map(show_hours, spells))
