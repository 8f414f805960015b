"""Sizes among tokens: two lengths that belong together, or one of something round or square. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from jobs.orders.reading.measures import COUNTED, TIMES, Measure, at, is_number, measure_at
from jobs.orders.reading.tokens import Token

#: what a third figure of these, without a unit, may be: glass comes so thick
THICKNESSES = {3, 4, 5, 6, 8, 10, 12}
_ROUND_LABELS = {"diameter", "radius", "circumference"}
#: what others write for “by”, between two lengths with their units: “1m20 on 0m80”
_TIMES_ABROAD = {"on", "sur", "auf", "per", "por", "op"}
_LEAST_ABROAD_MM = 100
_JOINS = {",", "and", "&", "/", ";", "-", "with", "+", "n"}


@dataclass(frozen=True)
class Found:
    """One size among the tokens, from place start up to end.

    sides: two lengths, or one with a label. count: written as “2 x” in front or “x 3” behind, 0 where none is.
    third: a third figure whose meaning is open.
    """

    start: int
    end: int
    sides: tuple[Measure, ...]
    count: int = 0
    third: Measure | None = None

    @property
    def pair(self) -> bool:
        return len(self.sides) == 2

    @property
    def label(self) -> str:
        return self.sides[0].label if not self.pair else ""


def sizes_of(tokens: list[Token], round_: bool = False) -> list[Found]:
    """Return every size among the tokens. round_: words for a circle stand there, so one length is a diameter."""
    found: list[Found] = []
    place = 0
    while place < len(tokens):
        size = _size_at(tokens, place, round_)
        if size is None:
            place += 1
            continue
        found.append(size)
        place = size.end
    if round_ and len(found) > 1 and any(size.pair or size.label in _ROUND_LABELS for size in found):
        found = [size for size in found if size.pair or size.label]
    return found


def _size_at(tokens: list[Token], place: int, round_: bool) -> Found | None:
    first = measure_at(tokens, place)
    if first is None:
        return None
    size = _chain(tokens, first) or _labelled(tokens, first)
    if size is not None:
        return size
    if first.label in _ROUND_LABELS or (first.label == "square" and first.number.values[0] >= 1):
        return Found(place, first.end, (first,))
    if round_ and _diameter(tokens, first):
        return Found(place, first.end, (first,))
    return None


def _diameter(tokens: list[Token], measure: Measure) -> bool:
    """Say whether a length without a label is a circle's: it has a unit, a fraction, or is no count."""
    if measure.label in ("d", "h") or at(tokens, measure.start - 1) in TIMES | {"/"}:
        return measure.label == "" and at(tokens, measure.start - 1) in TIMES and bool(measure.unit)
    if at(tokens, measure.end) in TIMES | COUNTED or (measure.number.fraction and at(tokens, measure.end) == "of"):
        return False
    return bool(measure.unit or measure.number.fraction or measure.number.whole > 24)


def _chain(tokens: list[Token], first: Measure) -> Found | None:
    """Read “a x b”, “a x b x c” and say which of three is the count."""
    sides = [first]
    while at(tokens, sides[-1].end) in TIMES | _TIMES_ABROAD and len(sides) < 4:
        following = measure_at(tokens, sides[-1].end + 1)
        if following is None or following.label in _ROUND_LABELS:
            break
        abroad = at(tokens, sides[-1].end) in _TIMES_ABROAD
        whole = len(sides) == 1 and _ends_a_part(tokens, following.end)
        if abroad and not (whole and all(side.unit and side.in_mm("mm") >= _LEAST_ABROAD_MM
                                         for side in (first, following))):
            break
        sides.append(following)
    if len(sides) == 2 and (first.label in _ROUND_LABELS or first.label == "square") and _few(sides[1], first):
        return Found(first.start, sides[1].end, (first,), sides[1].number.whole)  # “ø600 x 3”
    if len(sides) == 2:
        return Found(first.start, sides[1].end, tuple(sides))
    if len(sides) == 3:
        return _of_three(tokens, sides)
    if len(sides) == 4 and _counts(sides[0], sides[1:3]):
        return replace(_of_three(tokens, sides[1:]), start=first.start, count=sides[0].number.whole)
    return None


def _ends_a_part(tokens: list[Token], place: int) -> bool:
    """Say whether a part of a sentence ends here, so that “600 mm on 1200 mm studs” is no size."""
    return place >= len(tokens) or at(tokens, place) in {",", ".", ";", ")", ":", "!", "?", "and"}


def _few(measure: Measure, first: Measure) -> bool:
    """Say whether a figure behind a diameter can only be how many."""
    bare = not (measure.unit or measure.label or measure.number.fraction)
    return bare and 1 <= measure.number.whole <= 60 and first.number.values[0] >= 4 * measure.number.whole


def _counts(measure: Measure, sides: list[Measure]) -> bool:
    """Say whether a figure before a size can only be how many."""
    if measure.unit or measure.label or not 1 <= measure.number.whole <= 500 or measure.number.fraction:
        return False
    return all(measure.number.values[0] < side.number.values[0] or (side.unit in ("ft", "m")) for side in sides)


def _of_three(tokens: list[Token], sides: list[Measure]) -> Found:
    first, second, third = sides
    if first.unit == "mm" and first.number.whole in THICKNESSES and all(
            side.unit in ("", "mm") and side.number.values[0] >= 100 for side in (second, third)):
        return Found(first.start, third.end, (second, third), third=first)  # “6mm x 600 x 900mm”
    if _counts(first, [second, third]):
        return Found(first.start, third.end, (second, third), first.number.whole)
    size = Found(first.start, third.end, (first, second))
    counted = at(tokens, third.end) in COUNTED or third.number.spelled
    with_unit = bool(second.unit or second.label)
    counted = counted or (_glued(tokens, second.end) and not _glued(tokens, first.end))
    thick = third.number.whole in THICKNESSES and third.number.whole != 3
    counted = counted or (third.number.whole in (1, 2) and not third.number.fraction and all(
        side.unit in ("", "mm") and side.number.values[0] >= 100 for side in (first, second)))  # no glass is so thin
    how_many = counted or (with_unit and _is_a_count(third) and not thick)
    if how_many and third.number.whole and not third.unit and not third.label:
        return replace(size, count=third.number.whole)
    return replace(size, third=third)


def _glued(tokens: list[Token], times: int) -> bool:
    """Say whether an x stands against the figure behind it and away from the one before: “1200x600 x2”."""
    return tokens[times].end == tokens[times + 1].start and tokens[times - 1].end < tokens[times].start


def _is_a_count(measure: Measure) -> bool:
    return 1 <= measure.number.whole <= 100 and not measure.number.fraction


def _labelled(tokens: list[Token], first: Measure) -> Found | None:
    """Read “1100 mm wide and 1350 mm high”, “width 600, height 900”, “900 high 450 wide”."""
    if first.label not in ("w", "h", "l"):
        return None
    place = first.end
    for _ in range(3):
        second = measure_at(tokens, place)
        if second is not None and second.label in ("w", "h", "l", "d") and second.label != first.label:
            return Found(first.start, second.end, (first, second)) if second.label != "d" else None
        if at(tokens, place) not in _JOINS:
            return None
        place += 1
    return None


def counted_rounds(size: Found) -> Found:
    """Read the “2 x 24"” of something round as two of one diameter, where it can be no size."""
    if not size.pair or size.count or size.third is not None:
        return size
    first, second = size.sides
    behind = second.number.whole if not (second.unit or second.label or second.number.fraction) else 0
    if first.unit and 1 <= behind <= 60 and first.number.values[0] >= 4 * behind:
        return replace(size, sides=(first,), count=behind)
    how_many = first.number.whole if not (first.unit or first.label or first.number.fraction) else 0
    if not 1 <= how_many <= 60 or not second.unit or second.number.values[0] < 4 * how_many:
        return size
    return replace(size, sides=(second,), count=how_many)


def beside(tokens: list[Token], sizes: list[Found]) -> Iterator[Measure]:
    """Give the lengths that stand in no size: a thickness, a clearance, one side of a correction."""
    taken = {place for size in sizes for place in range(size.start, size.end)}
    place = 0
    while place < len(tokens):
        measure = None if place in taken else measure_at(tokens, place)
        if measure is not None and measure.unit and not taken & set(range(measure.start, measure.end)):
            yield measure
            place = measure.end
        else:
            place += 1


def figures_left(tokens: list[Token], taken: set[int]) -> list[int]:
    """Return the places of numbers that nothing took."""
    return [place for place in range(len(tokens)) if place not in taken and is_number(tokens, place)]
