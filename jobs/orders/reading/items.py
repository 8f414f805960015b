"""A passage with a size as it stands while the letter is read: later passages may change, fill or remove it. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from fractions import Fraction

from jobs.orders.reading.counts import MOST_PANES, Count, count_of, lone_spare, speaks_of_a_spare, tentative
from jobs.orders.reading.measures import MM, Measure, at, says_about
from jobs.orders.reading.passages import Passage
from jobs.orders.reading.sense import DEDUCTED, OFF, Deduction, Sense, deduction_of, sense_of
from jobs.orders.reading.settling import Settled, Surroundings, settle
from jobs.orders.reading.several import plural_in, several
from jobs.orders.reading.shapes import Shape, measured, shape_of
from jobs.orders.reading.shared_out import for_each_place, parts_of
from jobs.orders.reading.sizes import THICKNESSES, Found, beside, figures_left
from jobs.orders.reading.tokens import Token
from jobs.orders.reading.vocabulary import DETAILS, FILLER, THINGS
from studio.kit.typed_numbers import read_decimal

#: a length beside a size up to this is a thickness, a bevel, a joint: a note; a longer one is asked about
_SMALL_MM = 60
_THICKEST_MM = 13
_NO_MULTIPLE = {"side", "edge", "pane", "panel", "mirror", "piece", "m2", "metre", "the", "your", "our", "drawing",
                "one"}
_OFF_ONE_WAY = re.compile(r"\b(?:nothing|none|only|except|not|no)\b.{0,20}"
                          r"\b(?:height|width|top|bottom|sides?|left|right)\b"
                          r"|\b(?:height|width|top|bottom|sides)\sonly\b", re.IGNORECASE)
_ORDINALS = {"first", "second", "third", "fourth", "last"}
_NO_SIZES = {"thought", "thoughts", "floor", "floors", "storey", "landing", "look", "hand"}
_NO_NOTE = {"list number", "greeting"}
#: words that say nothing in front, and something behind another: “bar back”
_MEANT_BEHIND = {"only", "back", "first", "second", "third", "right", "cut", "finished"}


TWO_WAYS = "It gives the quantity in two ways: how many?"


@dataclass
class Item:
    """A size in hand.

    quantities: what the count may be, the likeliest first. doubts: why it is asked, each a sentence.
    gone: why it is no longer ordered, "" while it is. tails: later words that belong to it.
    """

    written: str
    options: list[Settled]
    quantities: list[int] = field(default_factory=lambda: [1])
    counted: bool = False
    shape: Shape = field(default_factory=lambda: Shape("rectangle"))
    sense: Sense = field(default_factory=Sense)
    note: str = ""
    worked_out: str = ""
    doubts: list[str] = field(default_factory=list)
    deduction: Deduction | None = None
    gone: str = ""
    tails: list[str] = field(default_factory=list)
    thick: str = ""
    holes: list[str] = field(default_factory=list)
    row: int = 0
    #: what is named in the plural beside the size: “600 x 900 tiles”
    plural: str = ""
    #: the area that is to be covered, as the passage says it
    fills_mm2: int = 0
    #: how many of its count were said to be spare
    spare: int = 0
    #: what rows under it share out, and how many such rows there are
    shared: int = 0
    shared_rows: int = 0

    def says(self, sentence: str) -> None:
        """Add a sentence on what was acted on, once."""
        if sentence not in self.worked_out:
            self.worked_out = f"{self.worked_out} {sentence}".strip()

    @property
    def sides_mm(self) -> tuple[Fraction, ...]:
        """Return its likeliest sides in mm, () where it has none."""
        return self.options[0].sides_mm if self.options else ()


def item_of(passage: Passage, around: Surroundings, row: int) -> Item:
    """Read a passage with a size."""
    tokens, found = passage.tokens, passage.found
    assert found is not None
    shape = shape_of(tokens, found)
    size = measured(found, shape, around)
    sense = sense_of(passage)
    count = count_of(tokens, found)
    lone_spare(tokens, count)
    item = Item(passage.text, size.options, shape=shape, sense=sense, worked_out=size.worked_out, row=row)
    item.plural, item.fills_mm2 = plural_in(tokens, found), _area_mm2(tokens)
    item.doubts += [doubt for doubt in (size.asked, passage.doubt, *(f"{doubt}: is it ordered?" for doubt in
                                                                     sense.doubts)) if doubt]
    if any(side.loose == "range" for side in found.sides):
        item.doubts.append("It gives a range: is this the size?")
    elif any(side.loose for side in found.sides) or _about(tokens, found):
        item.doubts.append("It says “about”: is this the exact size?")
    by_place, explained = for_each_place(tokens, count)
    _quantities(item, count, found)
    _spare_in_doubt(item, tokens, count)
    if by_place:
        item.quantities, item.counted = by_place, True
        item.doubts.append("It names places by their numbers: how many in all?")
    _openings_counted(item, tokens, found, count)
    _several(item, tokens, found, count)
    _third(item, tokens, found, count)
    if any(says_about(tokens, place) and any(place < used <= place + 2 for used in count.used) for place in
           range(found.start)):
        item.doubts.append("It says “about”: how many?")
    if _per(tokens):
        item.doubts.append("It says how many of them for each of something: how many in all?")
        if len(set(count.said)) == 2 and count.said[0] * count.said[1] <= MOST_PANES:
            item.quantities = list(dict.fromkeys([count.said[0] * count.said[1], *item.quantities]))
    _turned(item, tokens, found, around)
    if any(side.spaced for side in found.sides):
        _spaced(item, found, around)
    explained |= _shared_out(item, tokens, found, count)
    taken = set(range(found.start, found.end)) | count.used | set(shape.used)
    item.deduction = deduction_of(tokens, found) if sense.of == "opening" or sense.of == "frame" else _plain_deduction(
        tokens, found)
    if item.deduction is not None and _OFF_ONE_WAY.search(passage.text):
        item.doubts.append("It is not taken off every edge alike: which joint is meant?")
    _left_over(item, tokens, found, taken | explained)
    item.note = note_of(passage.text, tokens, taken)
    item.note = without_acted_on(item.note, item)
    return item


def _area_mm2(tokens: list[Token]) -> int:
    """Return the area in square metres that words name, “6 m2 in tiles …”, in mm²; 0 without one."""
    said = next((token.text for token in tokens if token.said == "area"), "")
    figure = re.match(r"(\d{1,6}(?:[.,]\d{1,4})?)\s?(?:m2|sq\.?\s?m\b|sqm|square\smet)", said)
    return int(read_decimal(figure[1].replace(",", ".")) * 10**6) if figure else 0


def without_acted_on(note: str, item: Item) -> str:
    """Return a note without what the item says itself: what is taken off an opening, and that it is one."""
    parts = note.split(", ")
    if item.deduction is not None and item.deduction.measure is not None:
        parts = [DEDUCTED.sub("", part).strip(" ,;:.-–—") if OFF & set(re.findall(r"[\w-]+", part.lower())) else part
                 for part in parts]
    if item.sense.of in ("opening", "frame"):
        parts = [part for part in parts if part.lower() != item.sense.noun]
    return ", ".join(part for part in parts if part)


def _about(tokens: list[Token], found: Found) -> bool:
    places = (*range(max(0, found.start - 2), found.start), *range(found.end, min(found.end + 2, len(tokens))))
    near = {at(tokens, place) for place in places if says_about(tokens, place)}
    return bool(near & {"approx", "approximately", "roughly", "about", "abt", "around", "circa", "ish", "~", "≈", "ca",
                        "roughly."})


def _per(tokens: list[Token]) -> bool:
    """Say whether a count may be multiplied: “one per bathroom”, “2 in every room”, but not “per side”."""
    return any(
        (at(tokens, place) in ("per", "every") and at(tokens, place + 1) not in _NO_MULTIPLE and not (
            place + 1 < len(tokens) and tokens[place + 1].spelled))
        or (at(tokens, place) == "each" and at(tokens, place + 1) in THINGS)
        for place in range(len(tokens)))


def _plain_deduction(tokens: list[Token], found: Found) -> Deduction | None:
    """Return what is taken off a size that is not said to be an opening's: “less 5 mm all round”."""
    deduction = deduction_of(tokens, found)
    words = {at(tokens, place) for place in range(len(tokens))}
    taken = {"deduct", "deducting", "less", "minus", "subtract", "take", "reduce", "smaller"}
    if deduction is None or not words & taken:
        return None
    return deduction if deduction.measure is not None else None


def _quantities(item: Item, count: Count, found: Found) -> None:
    item.counted = bool(count.said)
    quantity = count.quantity
    if quantity:
        item.quantities = [quantity]
    else:
        item.quantities = sorted(set(count.said), reverse=True)
        item.quantities += [item.quantities[0] + count.spare] if count.spare else []
        item.doubts.append(TWO_WAYS)
    item.spare = count.spare
    if count.spare and quantity:
        item.worked_out = f"{quantity - count.spare} and {count.spare} spare."
    if count.open:
        known = item.quantities if count.said else []
        item.quantities = [*known, *(one for one in count.open if one not in known)]
        if not count.said:
            item.quantities = list(dict.fromkeys([*item.quantities, 1]))
        if item.quantities != [1]:  # a lone “1” is one, whatever it counts
            item.doubts.append(f"Is {count.open[0]} how many?")
    if any(not 1 <= number <= 500 for number in item.quantities):
        item.quantities = [number for number in item.quantities if 1 <= number <= 500] or [1]
        item.doubts.append("The quantity must be between 1 and 500: how many?")


def _spare_in_doubt(item: Item, tokens: list[Token], count: Count) -> None:
    """Ask of “and a spare if it is not too dear” with and without it."""
    if count.spare and count.quantity and tentative(tokens):
        known = item.quantities if count.open else [item.quantities[0] - count.spare, *item.quantities]
        item.quantities = list(dict.fromkeys([*known, item.quantities[0] + (count.spare if count.open else 0)]))
        item.worked_out = ""
    elif not count.spare and speaks_of_a_spare(tokens):
        item.quantities = [*item.quantities, item.quantities[0] + 1]
    else:
        return
    item.doubts.append("It speaks of a spare: how many?")


def _several(item: Item, tokens: list[Token], found: Found, count: Count) -> None:
    """Ask how many, where words say that there are several and the figures do not say how many."""
    quantities, asked = several(tokens, found, count)
    if asked and (count.said or not item.counted):
        item.quantities = list(dict.fromkeys(quantities))
        item.doubts.append(asked)


def _turned(item: Item, tokens: list[Token], found: Found, around: Surroundings) -> None:
    """Ask which side is the width, where “900 x 1200, landscape” says against what its figures do."""
    words = {at(tokens, place) for place in range(len(tokens))} & {"landscape", "portrait"}
    if len(words) != 1 or len(item.sides_mm) != 2 or any(side.label for side in found.sides):
        return
    width, height = item.sides_mm
    if width != height and (width > height) != (words == {"landscape"}):
        item.options = [*settle(replace(found, sides=found.sides[::-1]), around)[0], *item.options]
        item.doubts.append(f"It says “{words.pop()}”: which side is the width?")


def _shared_out(item: Item, tokens: list[Token], found: Found, count: Count) -> set[int]:
    """Settle or ask whether “half for the hall, 3 for the landing” comes to the count; return the figures explained."""
    parts, used, half = parts_of(tokens, found, count)
    total = 2 * parts if half else parts
    if not parts or (count.said and count.quantity == total):
        return used
    known = item.quantities if count.said else []
    item.quantities = list(dict.fromkeys([*known, total, *(known or [1])]))
    item.counted = True
    item.doubts.append("It is shared out over places: how many in all?")
    return used


def _openings_counted(item: Item, tokens: list[Token], found: Found, count: Count) -> None:
    """Read the 2 of “2 alcoves 612 x 912 mm” as how many."""
    for place in range(found.start):
        token = tokens[place]
        if item.sense.of in ("opening", "frame") and not item.counted and at(tokens, place + 1) == item.sense.noun and (
                1 <= token.whole <= MOST_PANES):
            item.quantities, item.counted = [token.whole], True
            count.used.add(place)


def _third(item: Item, tokens: list[Token], found: Found, count: Count) -> None:
    """Ask what a third figure is: how thick, or how many."""
    if found.third is None:
        return
    figure = found.third.number
    unit = found.third.unit or ("in" if figure.fraction else "mm")
    millimetres = found.third.in_mm(unit)
    if millimetres <= 30:
        item.thick = f"{figure.text} {unit} thick"
        if found.third.unit == "mm" and figure.whole in THICKNESSES and item.sides_mm and min(item.sides_mm) >= 100:
            between = tokens[found.third.start].start, tokens[found.third.end - 1].end
            item.tails.append(f"{item.written[between[0] - tokens[0].start:between[1] - tokens[0].start]} thick")
            item.thick = ""
            return
    item.doubts.append(f"A third figure, {figure.text}: a thickness or a count?" if item.thick else
                       f"A third figure, {figure.text}: what is it?")
    if figure.whole and not found.third.unit and figure.whole <= 500 and not count.said:
        item.quantities = [1, figure.whole]


def _spaced(item: Item, found: Found, around: Surroundings) -> None:
    """Ask of “2 600 x 900” whether the 2 is how many, unless both sides are written so."""
    first, last = found.sides[0], found.sides[-1]
    if not first.spaced or (last.spaced and len(found.sides) == 2) or item.counted:
        return
    number = first.number
    count, rest = divmod(number.whole, 1000)
    unit = first.unit or last.unit or around.said_unit or around.default_unit
    plain = Settled(f"{rest} {unit}" + (f" x {last.text(unit)}" if len(found.sides) == 2 else ""),
                    (rest * MM[unit], *(side.in_mm(unit) for side in found.sides[1:])))
    item.doubts.append(f"“{count} {rest:03d}” can be {count} of them, or {number.whole}: which?")
    item.options = [option for option in (plain, *item.options) if option.plausible]
    item.quantities = [count, 1]


def _is_a_detail(tokens: list[Token], measure: Measure, item: Item) -> bool:
    """Say whether a length beside a size is of its glass, its edge or its joint, which are kept as a note."""
    millimetres = measure.in_mm("mm")
    if millimetres > _SMALL_MM:
        return False
    near = {at(tokens, place) for place in (*range(measure.start - 3, measure.start),
                                            *range(measure.end, measure.end + 4))}
    return millimetres <= _THICKEST_MM or item.deduction is not None or bool(near & DETAILS)


def _left_over(item: Item, tokens: list[Token], found: Found, taken: set[int]) -> None:
    """Ask of a figure that nothing explains."""
    lengths = {place for measure in beside(tokens, [found]) for place in range(measure.start, measure.end)}
    for measure in beside(tokens, [found]):
        if not _is_a_detail(tokens, measure, item) and not measure.number.spelled and not taken & {measure.start}:
            item.doubts.append(f"What is {measure.text(measure.unit)} in it?")
    for place in figures_left(tokens, taken | lengths):
        token = tokens[place]
        if token.spelled and token.whole == 1:
            continue
        item.doubts.append(f"What is “{token.text}” in it?")
        if (token.spelled or not item.counted) and 1 < token.whole <= MOST_PANES and token.whole not in item.quantities:
            item.quantities = [*item.quantities, token.whole]


def note_of(text: str, tokens: list[Token], taken: set[int]) -> str:
    """Return the words beside a size that were not acted on, as written; "" where all of them are plain."""
    runs: list[list[Token]] = [[]]
    for place, token in enumerate(tokens):
        if place in taken or (token.kind == "sign" and token.text in (",", ";", "(", ")")):
            runs.append([])
        else:
            runs[-1].append(token)
    kept = [_between(tokens, run, text) for run in runs]
    return ", ".join(part for part in kept if part)


def _between(tokens: list[Token], run: list[Token], text: str) -> str:
    while run and _says_nothing(run[0]) and not _begins_a_note(run):
        run = run[1:]
    while run and _says_nothing(run[-1]) and run[-1].bare not in _MEANT_BEHIND and not (
            run[-1].unit and run[-2:-1] and run[-2].kind == "number"):
        run = run[:-1]
    if not run:
        return ""
    offset = tokens[0].start
    return text[run[0].start - offset:run[-1].end - offset].strip(" :.-–—")


def _begins_a_note(run: list[Token]) -> bool:
    """Say whether a word that says nothing by itself does with the next: “back wall”, “+5 mm”."""
    following = run[1] if len(run) > 1 else None
    return following is not None and ((run[0].bare == "back" and following.bare in THINGS) or
                                      (run[0].text == "+" and following.kind == "number"))


def _says_nothing(token: Token) -> bool:
    if token.kind == "aside":
        return token.said in _NO_NOTE
    return token.kind == "sign" or token.bare in FILLER or (token.kind == "number" and token.whole == 1 and
                                                            token.spelled)


def words_of(tokens: list[Token]) -> set[str]:
    """Return the words of tokens; the “second” of “on second thoughts” or “second floor” counts no size."""
    return {at(tokens, place) or (token.text if token.spelled else "") for place, token in enumerate(tokens)
            if not (at(tokens, place) in _ORDINALS and at(tokens, place + 1) in _NO_SIZES)}
