"""Counts shared out over places: “levels 3 to 7, one per level”, “half for the hall, 3 for the landing”. Pure."""

from __future__ import annotations

import re

from jobs.orders.reading.counts import MOST_PANES, Count
from jobs.orders.reading.measures import at, is_number, measure_at
from jobs.orders.reading.sizes import Found
from jobs.orders.reading.tokens import Token
from jobs.orders.reading.vocabulary import ROOMS, THINGS
from studio.kit.typed_numbers import whole_number

_PLACES = frozenset("""levels floors storeys stories rooms bedrooms bathrooms corridors flats apartments suites units
    plots houses lobbies landings bays doors windows cabins blocks tables booths""".split())  # noqa: SIM905 - words
_FOR_EACH = {"per", "each", "every"}
_HALF = {"half", "rest", "remainder", "remaining", "others"}
#: “3 for the landing”, “2 hall”: what stands between a part of the count and its place
_TO = {"for", "in", "on", "to", "at", "the", "of", "them", "go", "goes", "going", "-", "our", "my"}
_ROW = re.compile(r"[^\W\d]?[^\d@:=]{0,40}?(?:\d{1,3}(?:st|nd|rd|th)\s[^\W\d]+)?\s*[-–—:=x×(]?\s*(\d{1,3})\)?"
                  r"(?:\s?(?:no|off|pcs|nr|ea))?\s*[.,;]?")
_ROW_BEHIND = re.compile(r"\W*(\d{1,3})\s?(?:x|no\.?|off|nr|pcs|for|in|to)?\s(?:the\s)?[^\W\d][^\d]{0,30}")


def places_named(tokens: list[Token]) -> tuple[int, set[int]]:
    """Return how many places “levels 3 to 7” or “rooms 101, 102 and 105” name, and where they stand; 0 without any."""
    for place in range(len(tokens)):
        if at(tokens, place) not in _PLACES or not _numbers(tokens, place + 1):
            continue
        first, joined, second = place + 1, at(tokens, place + 2), place + 3
        if joined in ("to", "-", "–", "through", "until") and _numbers(tokens, second):
            named = tokens[second].whole - tokens[first].whole + 1
            return (named, {first, second}) if 1 < named <= MOST_PANES else (0, set())
        used, near = {first}, place + 2
        while near < len(tokens):
            if _numbers(tokens, near) and at(tokens, near - 1) in (",", "and", "&"):
                used.add(near)
            elif at(tokens, near) not in (",", "and", "&"):
                break
            near += 1
        return (len(used), used) if len(used) > 1 else (0, set())
    return 0, set()


def _numbers(tokens: list[Token], place: int) -> bool:
    """Say whether a figure may be the number of a place."""
    if not is_number(tokens, place) or tokens[place].whole < 1:
        return False
    if at(tokens, place + 1) == "in" and at(tokens, place + 2) in _FOR_EACH:
        return True
    measure = measure_at(tokens, place)
    return measure is None or not measure.unit


def for_each_place(tokens: list[Token], count: Count) -> tuple[list[int], set[int]]:
    """Return the counts in all that “levels 3 to 7, two per level” may mean, the likeliest first, and the
    places of the figures that it explains; none where it names no places.
    """
    places, used = places_named(tokens)
    if not places:
        return [], set()
    named = {tokens[near].whole for near in used}
    count.open = [number for number in count.open if number not in named]
    each, explained = _counted_per(tokens, count, used)
    said = [number for number in count.said if number not in (places, each)]
    shared = any(at(tokens, place) in _FOR_EACH for place in range(len(tokens)))
    counts = [places * each, each, places, *said] if shared or not count.said else [*count.said, places * each]
    return [number for number in dict.fromkeys(counts) if 1 <= number <= MOST_PANES], used | explained


def _counted_per(tokens: list[Token], count: Count, used: set[int]) -> tuple[int, set[int]]:
    """Return how many go in each place, and where that stands: the 2 of “two per floor”; 1 where it is not said."""
    for place, token in enumerate(tokens):
        near = [at(tokens, one) for one in range(place + 1, min(place + 4, len(tokens)))]
        if place not in used and 1 <= token.whole <= MOST_PANES and token.kind == "number" and _numbers(
                tokens, place) and set(near) & _FOR_EACH:
            return token.whole, {place}
    said = [number for number in count.said if number not in {tokens[near].whole for near in used}]
    return (said[0] if said else 1), set()


def parts_of(tokens: list[Token], found: Found, count: Count) -> tuple[int, set[int], bool]:
    """Return what “3 for the hall, 2 for the landing” comes to, where its figures stand, and whether half is.

    0 where nothing is shared out.
    """
    parts, used, half = 0, set[int](), False
    for place in range(len(tokens)):
        if place in count.used or found.start <= place < found.end:
            continue
        near = place + 1
        while at(tokens, near) in _TO:
            near += 1
        if at(tokens, near) not in ROOMS | THINGS and not (near < len(tokens) and tokens[near].said == "place"):
            continue
        if at(tokens, place) in _HALF:
            half = True
        elif _numbers(tokens, place) and tokens[place].whole <= MOST_PANES and place > found.end - 1:
            parts += tokens[place].whole
            used.add(place)
    return (parts, used, half) if used and (len(used) > 1 or half or count.said) else (0, set(), False)


def counted_in_row(text: str) -> int:
    """Return the count of a row that shares a size out: “2nd floor - 14”, “Hall 2”, “2 x hall”; 0 without one."""
    written = re.sub(r"\s+", " ", text).strip()
    found = _ROW.fullmatch(written) or _ROW_BEHIND.fullmatch(written)
    number = whole_number(found[1]) if found is not None else 0
    return number if 1 <= number <= MOST_PANES else 0
