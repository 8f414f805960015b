"""Working hours of a day as people write them, “8-17”, and how long ammoniacal silver may stand. Pure: no Django."""

from __future__ import annotations

import re
from datetime import time

from studio.kit.errors import DaybookError

_TIME = r"(\d{1,2})(?:[:.](\d{2}))?"
_HOURS = re.compile(rf"{_TIME}\s*(?:-|–|to|until)\s*{_TIME}")

#: how long ammoniacal silver may stand, where the studio sets nothing else, and at most: the one published figure found
#: is two hours (a histology laboratory's guide to ammoniacal silver stain)
LIMIT_MINUTES, MOST_LIMIT_MINUTES = 120, 240

DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


class NoHours(DaybookError):
    """What was typed is no working hours."""


def parse_hours(text: str) -> tuple[time, time] | None:
    """Return from when to when somebody works; None for nothing typed. Raises NoHours."""
    typed = text.strip()
    if not typed:
        return None
    found = _HOURS.fullmatch(typed)
    try:
        if found is None:
            raise ValueError
        begins = time(int(found[1]), int(found[2] or 0))
        ends = time(int(found[3]), int(found[4] or 0))
    except ValueError:
        raise NoHours(f"“{typed}” are no working hours: write for instance 08:30-17:30.") from None
    if ends <= begins:
        raise NoHours(f"“{typed}” ends before it begins: write for instance 08:30-17:30.")
    return begins, ends


def show_hours(hours: tuple[time, time] | None) -> str:
    """Return working hours as they are kept: “08:30-17:30”; nothing for none."""
    return f"{hours[0]:%H:%M}-{hours[1]:%H:%M}" if hours else ""
