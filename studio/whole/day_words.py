"""Days, moments and small numbers as a sentence says them. Pure."""

from __future__ import annotations

from datetime import date, datetime, timedelta

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_HOURS = ("twelve", *NUMBERS[1:])
_QUARTERS = {0: "{} o’clock", 15: "quarter past {}", 30: "half past {}", 45: "quarter to {}"}


def day_words(on: date, today: date) -> str:
    """Return “today”, “tomorrow”, “Tue 1 Dec”, the year only where it is another: “1 Dec 2027”."""
    if on == today:
        return "today"
    if on == today + timedelta(days=1):
        return "tomorrow"
    return f"{on:%a} {on.day} {on:%b}" if on.year == today.year else f"{on.day} {on:%b %Y}"


def plain_day(on: date, today: date) -> str:
    """Return “16 Nov”, the year only where it is another."""
    return f"{on.day} {on:%b}" if on.year == today.year else f"{on.day} {on:%b %Y}"


def due_words(due: date | None, today: date) -> str:
    """Return “due Tue 8 Dec”, “due 24 Nov, 2 days late”; nothing where no day was said."""
    if due is None:
        return ""
    if due < today:
        return f"due {plain_day(due, today)}, {days_words((today - due).days)} late"
    return f"due {day_words(due, today)}"


def days_words(days: int) -> str:
    return f"{days} day{'' if days == 1 else 's'}"


def hour_words(moment: datetime) -> str:
    """Return “half past five”, or “17:42” between the quarters. moment: in the studio's own time."""
    said = _QUARTERS.get(moment.minute)
    if said is None:
        return f"{moment:%H:%M}"
    return said.format(_HOURS[(moment.hour + (moment.minute == 45)) % 12])


def number_words(count: int) -> str:
    """Return “two”; a figure above twelve."""
    return NUMBERS[count] if count < len(NUMBERS) else str(count)


def counted(count: int, one: str, several: str = "") -> str:
    """Return “one run”, “two runs”, “14 runs”."""
    return f"{number_words(count)} {one if count == 1 else several or one + 's'}"
