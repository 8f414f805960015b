"""Dates as people write them: “1 Feb”, “3/4”, “tomorrow”, “in 3 weeks”, “end of March”. Pure: no Django.

What a day and a month in figures mean, 3/4, is the studio's own order; whatever could be another day is refused with a
sentence instead of guessed, and what was read is shown with the month in words.
"""

from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, time, timedelta
from typing import Literal

from babel import Locale, UnknownLocaleError
from babel.core import get_global

from studio.kit.errors import DaybookError
from studio.kit.typed_numbers import NoNumber, bounded, is_whole, read_whole

#: which way a date without its year lies: from today on, up to today, or whichever is closer
Towards = Literal["ahead", "back", "near"]

MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
          "december")
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_COUNTS = {"a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
           "nine": 9, "ten": 10, "twelve": 12}
_NEAR_DAYS = {"today": 0, "tomorrow": 1, "yesterday": -1, "the day after tomorrow": 2, "day after tomorrow": 2,
              "the day before yesterday": -2, "day before yesterday": -2}
FARTHEST_YEARS = 50

_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
_FIGURES = re.compile(r"(\d{1,2})\s?[-/.]\s?(\d{1,2})(?:\.|\s?[-/.]\s?(\d{4}|\d{2}))?")
_DAY_MONTH = re.compile(r"(?:the )?(\d{1,2})(?:st|nd|rd|th|\.)?[\s-]*(?:of )?([a-z]{3,})\.?(?:[\s-]*'?(\d{4}|\d{2}))?")
_MONTH_DAY = re.compile(r"([a-z]{3,})\.?[\s-]*(\d{1,2})(?:st|nd|rd|th)?(?:[\s-]+'?(\d{4}|\d{2}))?")
_SPAN = re.compile(r"(?:(in) )?(\d{1,3}|[a-z]+) (day|week|month)s?(?: (ago|from (?:now|today)|time))?")
_END = re.compile(
    r"(?:the )?(end|start|beginning) of (?:(this|next) (month|year)|the (month|year)|([a-z]{3,}))(?: (\d{4}))?"
)
_WEEKDAY = re.compile(r"(?:on |this )?([a-z]{3,})\.?")
_TIME = re.compile(r"(\d{1,2})[:.](\d{2})(?::00)?\s*(am|pm)?|(\d{1,2})\s*(am|pm)")


class NoDate(DaybookError, ValueError):
    """What was typed is no date, or could be more than one."""


def day_first(time_zone: str, units: str = "metric") -> bool:
    """Return whether a studio writes the day before the month in figures: as its country does.

    The country is its time zone's (CLDR); of a zone of no country, units say: US customary writes the month first.
    """
    country = get_global("zone_territories").get(time_zone, "")
    try:
        pattern = str(Locale.parse(f"und_{country}").datetime_skeletons["Md"]) if country else ""
    except (UnknownLocaleError, ValueError, KeyError):
        pattern = ""
    return pattern.index("d") < pattern.index("M") if pattern else units != "us"


def show_day(day: date) -> str:
    """Return a date as a field shows it: “1 Feb 2027”."""
    return f"{day.day} {MONTHS[day.month - 1][:3].capitalize()} {day.year:04}"


def show_day_in_full(day: date) -> str:
    """Return a date as it is read back: “Mon 1 Feb 2027”."""
    return f"{WEEKDAYS[day.weekday()][:3].capitalize()} {show_day(day)}"


def _check_letters(text: str) -> None:
    try:
        bounded(text)
    except NoNumber as refusal:
        raise NoDate(str(refusal)) from refusal


@dataclass(frozen=True, kw_only=True)
class DayReader:
    """How a studio reads dates on a day. day_first is asked only where figures alone leave it open."""

    today: date
    day_first: Callable[[], bool]
    towards: Towards = "ahead"

    def read(self, text: str) -> date:
        """Return the date that was typed. Raises NoDate."""
        _check_letters(text)
        bare = " ".join(text.replace(",", " ").lower().split()).removesuffix(".")
        weekday, rest = _split_weekday(bare)
        for way in (self._in_words, self._by_span, self._end_of, self._iso, self._with_month, self._in_figures):
            found = way(rest, weekday) if rest else None
            if found is not None:
                return self._checked(found, weekday, text)
        if weekday is not None and not rest:
            return self._next_weekday(weekday)
        after_next = _named(rest.removeprefix("next "), WEEKDAYS) if rest.startswith("next ") else None
        if after_next is not None:
            self._refuse_next(after_next, text)
        raise NoDate(f"“{text.strip()}” was not understood as a date: write for instance 1 Feb, {self._figures()}, "
                     "tomorrow or in 3 weeks.")

    def read_moment(self, text: str, now: time) -> tuple[date, time]:
        """Return the day and the time that were typed: “14:30” is today's, “1 Feb 14:30”, “yesterday 9 am”.

        now: the time, for “now” alone. Raises NoDate.
        """
        _check_letters(text)
        bare = re.sub(r"(\d)t(\d)", r"\1 \2", " ".join(text.lower().replace(",", " ").replace(" at ", " ").split()))
        if bare == "now":
            return self.today, now
        for day, clock in _day_and_time(bare):
            at = _time(clock)
            if at is not None:
                return (self.read(day) if day else self.today), at
        raise NoDate(f"“{text.strip()}” was not understood as a day and a time: write for instance 14:30, "
                     "yesterday 9:15 or 1 Feb 14:30.")

    def _figures(self) -> str:
        return "1/2/2027" if self.day_first() else "2/1/2027"

    def _in_words(self, rest: str, _weekday: int | None) -> date | None:
        days = _NEAR_DAYS.get(rest)
        return None if days is None else self.today + timedelta(days=days)

    def _by_span(self, rest: str, _weekday: int | None) -> date | None:
        found = _SPAN.fullmatch(rest)
        if found is None:
            return None
        begins, many, unit, ends = found.groups()
        count = read_whole(many) if is_whole(many) else _COUNTS.get(many)
        if count is None:
            return None
        if ends == "ago" and not begins:
            count = -count
        elif not begins and ends is None:
            back, ahead = (self._moved(count * sign, unit) for sign in (-1, 1))
            raise NoDate(f"“{rest}” may be {show_day_in_full(ahead)} or {show_day_in_full(back)}: write “in {rest}” or "
                         f"“{rest} ago”.")
        elif ends == "ago":
            return None
        return self._moved(count, unit)

    def _moved(self, count: int, unit: str) -> date:
        if unit != "month":
            return self.today + timedelta(days=count * (7 if unit == "week" else 1))
        years, month = divmod(self.today.year * 12 + self.today.month - 1 + count, 12)
        return date(years, month + 1, min(self.today.day, monthrange(years, month + 1)[1]))

    def _end_of(self, rest: str, _weekday: int | None) -> date | None:
        found = _END.fullmatch(rest)
        if found is None:
            return None
        which, relative, relative_unit, plain_unit, named, year = found.groups()
        unit = relative_unit or plain_unit
        if unit == "year":
            on = self.today.year + (relative == "next")
            return date(on, 12, 31) if which == "end" else date(on, 1, 1)
        if unit == "month":
            first = self._moved(int(relative == "next"), "month").replace(day=1)
        else:
            month = _named(named, MONTHS)
            if month is None:
                return None
            if year:
                first = _day(read_whole(year), month + 1, 1)
            else:
                return self._without_year(month + 1, None if which == "end" else 1, None)
        return first.replace(day=monthrange(first.year, first.month)[1]) if which == "end" else first

    def _iso(self, rest: str, _weekday: int | None) -> date | None:
        found = _ISO.fullmatch(rest)
        return None if found is None else _day(read_whole(found[1]), read_whole(found[2]), read_whole(found[3]))

    def _with_month(self, rest: str, weekday: int | None) -> date | None:
        found, swapped = _DAY_MONTH.fullmatch(rest), _MONTH_DAY.fullmatch(rest)
        if found is not None:
            day, word, year = found.groups()
        elif swapped is not None:
            word, day, year = swapped.groups()
        else:
            return None
        month = _named(word, MONTHS)
        return None if month is None else self._dated(read_whole(day), month + 1, year, weekday)

    def _in_figures(self, rest: str, weekday: int | None) -> date | None:
        found = _FIGURES.fullmatch(rest)
        if found is None:
            return None
        first, second, year = read_whole(found[1]), read_whole(found[2]), found[3]
        by_day = self.day_first()
        day, month = (first, second) if by_day else (second, first)
        if month > 12 >= day:
            meant = f"{month} {MONTHS[day - 1][:3].capitalize()}" if day and month <= 28 else "the month in words"
            raise NoDate(f"“{rest}” has no month {month}: here the {'day' if by_day else 'month'} comes first. "
                         f"Write {meant}, if that is meant.")
        return self._dated(day, month, year, weekday)

    def _dated(self, day: int, month: int, year: str | None, weekday: int | None) -> date:
        if year is None:
            return self._without_year(month, day, weekday)
        return _day(read_whole(year) if len(year) == 4 else self._century(read_whole(year)), month, day)

    def _century(self, year: int) -> int:
        return min((self.today.year // 100 * 100 + year + more for more in (-100, 0, 100)),
                   key=lambda each: abs(each - self.today.year))

    def _without_year(self, month: int, day: int | None, weekday: int | None) -> date:
        """Return that day of the year that is meant; day None: the month's last. A weekday decides, where given."""
        days = [made for year in range(self.today.year - 4, self.today.year + 9)
                if (made := _maybe(year, month, day if day is not None else monthrange(year, month)[1]))]
        if not days:
            _day(self.today.year, month, day or 0)
        if weekday is not None:
            of_year = [each for each in days if abs(each.year - self.today.year) <= 1]
            fitting = [each for each in of_year if each.weekday() == weekday]
            if not fitting:
                raise NoDate(f"{days[0].day} {MONTHS[month - 1].capitalize()} is no "
                             f"{WEEKDAYS[weekday].capitalize()} this year, last year or next: write the year.")
            days = fitting
        ahead = [each for each in days if each >= self.today]
        back = [each for each in days if each <= self.today]
        if self.towards == "ahead" and ahead:
            return ahead[0]
        if self.towards == "back" and back:
            return back[-1]
        return min(days, key=lambda each: abs(each - self.today))

    def _next_weekday(self, weekday: int) -> date:
        """Return the next such day, or the last one where dates lie back; today's own name is today or a week away."""
        ahead = (weekday - self.today.weekday()) % 7
        if ahead == 0:
            word = WEEKDAYS[weekday].capitalize()
            raise NoDate(f"Today is a {word}: write “today”, or the date.")
        return self.today + timedelta(days=ahead - 7 if self.towards == "back" else ahead)

    def _refuse_next(self, weekday: int, text: str) -> None:
        first = self.today + timedelta(days=(weekday - self.today.weekday()) % 7 or 7)
        raise NoDate(f"“{text.strip()}” may be {show_day_in_full(first)} or "
                     f"{show_day_in_full(first + timedelta(days=7))}: write which.")

    def _checked(self, found: date, weekday: int | None, text: str) -> date:
        if weekday is not None and found.weekday() != weekday:
            raise NoDate(f"“{text.strip()}”: {show_day(found)} is a {WEEKDAYS[found.weekday()].capitalize()}, not a "
                         f"{WEEKDAYS[weekday].capitalize()}. Correct one of them.")
        if abs(found.year - self.today.year) > FARTHEST_YEARS:
            raise NoDate(f"“{text.strip()}” lies in {found.year}: write the year that is meant.")
        return found


def _named(word: str, names: tuple[str, ...]) -> int | None:
    """Return which name a word begins, by three letters or more."""
    word = {"sept": "sep", "tues": "tue", "weds": "wed", "thur": "thu", "thurs": "thu"}.get(word, word)
    fitting = [at for at, name in enumerate(names) if len(word) >= 3 and name.startswith(word)]
    return fitting[0] if fitting else None


def _split_weekday(text: str) -> tuple[int | None, str]:
    found = _WEEKDAY.match(text)
    weekday = _named(found[1], WEEKDAYS) if found else None
    return (None, text) if found is None or weekday is None else (weekday, text[found.end():].strip())


def _maybe(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _day(year: int, month: int, day: int) -> date:
    made = _maybe(year, month, day)
    if made is None:
        shown = f"{day} {MONTHS[month - 1].capitalize()}" if 1 <= month <= 12 else f"month {month}"
        raise NoDate(f"There is no {shown} in {year}.")
    return made


def _day_and_time(text: str) -> list[tuple[str, str]]:
    """Return the ways to part a text into day and time, the time last or first."""
    words = text.removeprefix("at ").split()
    parted = [(" ".join(words[:-many]), " ".join(words[-many:])) for many in (2, 1)]
    return [*parted, *((" ".join(words[many:]), " ".join(words[:many])) for many in (2, 1))]


def _time(text: str) -> time | None:
    found = _TIME.fullmatch(text)
    if found is None:
        return None
    hour, minute, half = read_whole(found[1] or found[4]), read_whole(found[2] or "0"), found[3] or found[5]
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    return time(hour, minute) if hour < 24 and minute < 60 else None
