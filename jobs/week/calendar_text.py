"""A calendar as text by RFC 5545: lines folded at 75 octets, text escaped, the studio's zone with its changes. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

MOST_OCTETS = 75
PRODUCT = "-//Silvering Daybook//The week//EN"


@dataclass(frozen=True, kw_only=True)
class Event:
    """Something with a time, or an all-day thing. sequence rises when it moves; a cancelled one stays for a while."""

    uid: str
    sequence: int
    stamp: datetime
    summary: str
    description: str = ""
    starts: datetime | None = None
    ends: datetime | None = None
    first_on: date | None = None
    cancelled: bool = False


def escaped(text: str) -> str:
    """Return text as a property's value: backslash, semicolon, comma and line ends escaped (RFC 5545, 3.3.11)."""
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    for mark, written in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        plain = plain.replace(mark, written)
    return "".join(letter for letter in plain if letter >= " " or letter == "\t")


def folded(line: str) -> str:
    """Return a content line in pieces of at most 75 octets, no letter cut in two, each ended by CR LF (3.1)."""
    pieces, now, size = [], "", 0
    for letter in line:
        octets = len(letter.encode())
        if size + octets > MOST_OCTETS:
            pieces.append(now)
            now, size = " ", 1
        now += letter
        size += octets
    return "\r\n".join([*pieces, now]) + "\r\n"


def written(name: str, events: Sequence[Event], zone: ZoneInfo) -> str:
    """Return the calendar of a zone with its events."""
    moments = [moment for event in events for moment in (event.starts, event.ends) if moment is not None]
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}", "CALSCALE:GREGORIAN", "METHOD:PUBLISH",
             f"NAME:{escaped(name)}", f"X-WR-CALNAME:{escaped(name)}", "REFRESH-INTERVAL;VALUE=DURATION:PT1H"]
    if moments:
        lines += _zone(zone, min(moments), max(moments))
    for event in events:
        lines += _event(event, zone)
    return "".join(folded(line) for line in [*lines, "END:VCALENDAR"])


def _event(event: Event, zone: ZoneInfo) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{escaped(event.uid)}"
    yield f"SEQUENCE:{event.sequence}"
    yield f"DTSTAMP:{event.stamp.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    if event.starts is not None and event.ends is not None:
        yield f"DTSTART;TZID={zone.key}:{event.starts.astimezone(zone):%Y%m%dT%H%M%S}"
        yield f"DTEND;TZID={zone.key}:{event.ends.astimezone(zone):%Y%m%dT%H%M%S}"
    elif event.first_on is not None:
        yield f"DTSTART;VALUE=DATE:{event.first_on:%Y%m%d}"
        yield f"DTEND;VALUE=DATE:{event.first_on + timedelta(days=1):%Y%m%d}"
        yield "TRANSP:TRANSPARENT"
    yield f"SUMMARY:{escaped(event.summary)}"
    if event.description:
        yield f"DESCRIPTION:{escaped(event.description)}"
    yield f"STATUS:{'CANCELLED' if event.cancelled else 'CONFIRMED'}"
    yield "END:VEVENT"


def _offset(offset: timedelta) -> str:
    seconds = int(offset.total_seconds())
    sign, rest = ("-" if seconds < 0 else "+"), abs(seconds)
    return f"{sign}{rest // 3600:02}{rest % 3600 // 60:02}" + (f"{rest % 60:02}" if rest % 60 else "")


def _zone(zone: ZoneInfo, first: datetime, last: datetime) -> Iterator[str]:
    """Yield the zone as it is between two moments: how it begins, and each change of its offset."""
    at = datetime(first.astimezone(UTC).year, 1, 1, tzinfo=UTC)
    end = last.astimezone(UTC) + timedelta(days=2)
    yield from ("BEGIN:VTIMEZONE", f"TZID:{zone.key}")
    yield from _observance(zone, at, at.astimezone(zone).utcoffset() or timedelta())
    while at < end:
        following = at + timedelta(days=1)
        before = at.astimezone(zone).utcoffset() or timedelta()
        if following.astimezone(zone).utcoffset() != before:
            yield from _observance(zone, _change(zone, at, following), before)
        at = following
    yield "END:VTIMEZONE"


def _change(zone: ZoneInfo, low: datetime, high: datetime) -> datetime:
    """Return the first second at which the offset is another."""
    before = low.astimezone(zone).utcoffset()
    while high - low > timedelta(seconds=1):
        middle = low + (high - low) // 2
        middle = middle.replace(microsecond=0)
        if middle.astimezone(zone).utcoffset() == before:
            low = middle
        else:
            high = middle
    return high


def _observance(zone: ZoneInfo, at: datetime, before: timedelta) -> Iterator[str]:
    """Yield what holds from a moment on; it is said by the clock of before."""
    local = at.astimezone(zone)
    kind = "DAYLIGHT" if local.dst() else "STANDARD"
    yield f"BEGIN:{kind}"
    yield f"DTSTART:{(at + before).replace(tzinfo=None):%Y%m%dT%H%M%S}"
    yield f"TZOFFSETFROM:{_offset(before)}"
    yield f"TZOFFSETTO:{_offset(local.utcoffset() or timedelta())}"
    yield f"TZNAME:{escaped(local.tzname() or zone.key)}"
    yield f"END:{kind}"
