"""Lengths among tokens: a number with its unit, feet with inches, what it measures (w, h, ø, radius). Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from jobs.orders.reading.tokens import Token
from studio.kit.rounding import decimal_string
from studio.kit.typed_numbers import is_whole

MM = {"mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000), "in": Fraction(254, 10), "ft": Fraction(3048, 10)}
TIMES = {"x", "by", "*"}
#: sides that one size names: no unit is looked for further ahead
MOST_SIDES = 3
LABELS = {
    **dict.fromkeys(("w", "wide", "width", "widths", "across", "breadth", "broad"), "w"),
    **dict.fromkeys(("h", "high", "height", "heights", "tall", "hight", "ht", "hgt", "heigh"), "h"),
    **dict.fromkeys(("l", "long", "length"), "l"),
    **dict.fromkeys(("deep", "depth"), "d"),
    **dict.fromkeys(("ø", "dia", "diam", "diameter", "diametre"), "diameter"),
    **dict.fromkeys(("radius", "rad"), "radius"),
    **dict.fromkeys(("circumference", "circ"), "circumference"),
    **dict.fromkeys(("square", "sq", "squares"), "square"),
}
#: labels that also stand in front of their number, and what may stand between
_IN_FRONT = {"w", "width", "h", "height", "ø", "dia", "diam", "diameter", "radius", "circumference", "length", "l",
             "breadth", "ht", "rad", "circ"}
_BETWEEN = {":", "=", "of", "is", "being", "around", "about", "-"}
ABOUT = {"about", "abt", "approx", "approximately", "roughly", "around", "circa", "ca", "c", "nearly", "almost", "~",
         "≈", "say", "some"}
COUNTED = {"off", "no", "nr", "nos", "pcs", "pc", "pieces", "piece", "ea", "each", "panels", "panes", "mirrors"}
_COUNTING = {"qty", "quantity", "quant", "pcs", "no", "nr"}
_ABOUT_AFTER = {"ish", "approx", "approximately", "roughly", "ish."}
#: after “in”, these make it inches; any other word makes it a preposition
_AFTER_INCHES = TIMES | set(LABELS) | {
    "and", "each", "off", "no", "nr", "pcs", "pc", "ea", "qty", "please", "thanks", "mirror", "mirrors", "glass", "or",
    "round", "oval", "panel", "panels", "pane", "panes", "plus", "tile", "tiles", "piece", "pieces", "thick", "antique",
}


@dataclass(frozen=True)
class Measure:
    """One length among tokens, from place start up to end.

    parts: its numbers with their units ("" where none is written). label: w, h, l, d, diameter, radius, circumference,
    square. loose: "about" or "range". spaced: “2 600”, which may be a count and a number.
    """

    start: int
    end: int
    parts: tuple[tuple[Token, str], ...]
    label: str = ""
    loose: str = ""
    spaced: bool = False

    @property
    def number(self) -> Token:
        return self.parts[0][0]

    @property
    def unit(self) -> str:
        return self.parts[0][1]

    @property
    def last_unit(self) -> str:
        """Return the smallest unit: inches of feet and inches."""
        return self.parts[-1][1]

    def in_mm(self, unit: str, value: Fraction | None = None) -> Fraction:
        """Return its worth in mm; unit: of a bare number. value: of the first number, where it may be worth two."""
        first = self.number.values[0] if value is None else value
        rest = sum((token.values[0] * MM[of] for token, of in self.parts[1:]), Fraction(0))
        return first * MM[self.unit or unit] + rest

    def text(self, unit: str, value: Fraction | None = None) -> str:
        """Return it as parse_size reads it, with its unit."""
        of = self.unit or unit
        if len(self.parts) == 1:
            return f"{_figure(self.number, value)} {of}"
        if of == "ft":
            return f"{_figure(self.number)}' {_figure(self.parts[1][0])}\""
        return f"{decimal_string(self.in_mm(of), 6)} mm"


def _figure(token: Token, value: Fraction | None = None) -> str:
    worth = token.values[0] if value is None else value
    whole, part = divmod(worth, 1)
    if not part:
        return str(whole)
    if token.fraction:
        return f"{whole} {part}" if whole else str(part)
    return decimal_string(worth, 12)


def at(tokens: list[Token], place: int) -> str:
    """Return the plain word or sign at a place, "" beyond the ends and for numbers and asides."""
    return tokens[place].bare if 0 <= place < len(tokens) and tokens[place].kind in ("word", "sign") else ""


_SPOKEN = set("""talk talked talking spoke spoken speak ask asked asking discussed email emailed e-mail mail wrote
    called enquire enquiry enquiring inquire inquiry inquiring thinking question""".split())  # noqa: SIM905 - words as words


_LETTERED = {"panel", "pane", "item", "type", "mirror", "option", "unit", "door", "window", "ref", "mark", "piece",
             "plate", "wall", "bay", "room", "size", "glass", "section", "drawing", "position", "pos"}


def says_about(tokens: list[Token], place: int) -> bool:
    """Say whether a word makes a figure inexact; “we talked about 3” does not."""
    lettered = at(tokens, place) == "c" and (  # “C - 3 @ 295 x 718” lists, “panel C 288 x 1044” names
        not is_number(tokens, place + 1) or at(tokens, place - 1) in _LETTERED)
    return at(tokens, place) in ABOUT and not lettered and at(tokens, place - 1) not in _SPOKEN


def is_number(tokens: list[Token], place: int) -> bool:
    return 0 <= place < len(tokens) and tokens[place].kind == "number"


def measure_at(tokens: list[Token], place: int) -> Measure | None:
    """Read one length at a place, its label in front included; None where there is none."""
    number, label, loose = place, "", ""
    if _of_the_one_before(tokens, number):
        return None
    if at(tokens, number) in _IN_FRONT or (at(tokens, number) == "square" and is_number(tokens, number + 1)):
        label = LABELS[at(tokens, number)]
        number += 1
    elif at(tokens, number) == "(" and at(tokens, number + 1) in _IN_FRONT and at(tokens, number + 2) == ")":
        label, number = LABELS[at(tokens, number + 1)], number + 3
    while label and at(tokens, number) in _BETWEEN:
        loose = "about" if at(tokens, number) in ABOUT else loose
        number += 1
    if not is_number(tokens, number):
        return None
    measure = _after_label(tokens, number, labelled=bool(label))
    if measure is None:
        return None
    if says_about(tokens, place - 1):
        loose = "about"
    return replace(measure, start=place, label=label or measure.label, loose=loose or measure.loose)


def _of_the_one_before(tokens: list[Token], place: int) -> bool:
    """Say whether a label belongs to the number in front of it, and a count stands behind: “600 dia 2 off”."""
    return at(tokens, place) in _IN_FRONT and _is_counted(tokens, place + 1) and (
        is_number(tokens, place - 1) or (place > 1 and is_number(tokens, place - 2) and bool(tokens[place - 1].unit)))


def _is_counted(tokens: list[Token], place: int) -> bool:
    return is_number(tokens, place) and (at(tokens, place + 1) in COUNTED or (
        at(tokens, place + 1) == "-" and at(tokens, place + 2) in COUNTED))


def _after_label(tokens: list[Token], place: int, *, labelled: bool) -> Measure | None:
    measure = _range(tokens, place) or _spaced(tokens, place) or _plain(tokens, place)
    label, end = _label(tokens, measure.end)
    if labelled and _takes_number(tokens, end):
        label, end = "", measure.end  # “H900 W600”: the W is of what follows
    loose = measure.loose
    if at(tokens, end) in _ABOUT_AFTER or (at(tokens, end) == "-" and at(tokens, end + 1) == "ish"):
        loose, end = "about", end + (1 if at(tokens, end) in _ABOUT_AFTER else 2)
    return replace(measure, label=label, end=end, loose=loose)


def _label(tokens: list[Token], end: int) -> tuple[str, int]:
    """Read “w”, “(w)”, “wide”, “in height” or “- width” after a number; return the label and where it ends."""
    if at(tokens, end) == "(" and at(tokens, end + 1) in LABELS and at(tokens, end + 2) == ")":
        return LABELS[at(tokens, end + 1)], end + 3
    if at(tokens, end) in ("in", "-", "of") and at(tokens, end + 1) in ("height", "width", "diameter", "length"):
        return LABELS[at(tokens, end + 1)], end + 2
    if at(tokens, end) == "in" and at(tokens, end + 1) == "the" and at(tokens, end + 2) in ("height", "width"):
        return LABELS[at(tokens, end + 2)], end + 3
    word = at(tokens, end)
    if word == "square" and is_number(tokens, end + 1) and at(tokens, end + 2) in TIMES:
        return "", end  # “1 square 900 x 900”
    # “width 600, height 900”: the label of what follows is not this one's
    takes = word in _IN_FRONT and len(word) > 2 and _takes_number(tokens, end + 1)
    if word in LABELS and not (takes and not _is_counted(tokens, end + 1)):
        return LABELS[word], end + 1
    return "", end


def _takes_number(tokens: list[Token], place: int) -> bool:
    while at(tokens, place) in _BETWEEN:
        place += 1
    return is_number(tokens, place)


def _range(tokens: list[Token], place: int) -> Measure | None:
    first, second = tokens[place], place + 2
    if first.unit or not is_number(tokens, second):
        return None
    between, other = at(tokens, place + 1), tokens[second]
    apart = between == "-" and other.start - first.end > 1
    near = 100 <= first.values[0] <= other.values[0] < 2 * first.values[0]
    if at(tokens, place - 1) in _COUNTING or (apart and not near):
        return None  # “Qty 6 – 12 x 12”, “6 - 12 x 12”: no range, a count
    if between not in ("-", "to") or first.fraction or other.values[0] <= first.values[0]:
        return None
    measure = _plain(tokens, second)
    return replace(measure, start=place, loose="range") if len(measure.parts) == 1 else None


def _spaced(tokens: list[Token], place: int) -> Measure | None:
    """Read “1 500”: one space, three digits after it."""
    first = tokens[place]
    if not is_number(tokens, place + 1) or not 1 <= first.whole <= 12 or first.spelled:
        return None
    second = tokens[place + 1]
    if (at(tokens, place - 1) in TIMES and place < 2) or at(tokens, place - 1) in ("→", ">"):
        return None  # “x2 600 x 800”, “3 → 4 600 x 900”
    if second.start != first.end + 1 or len(second.text) != 3 or not is_whole(second.text):
        return None
    joined = replace(first, text=first.text + second.text, end=second.end,
                     values=(first.values[0] * 1000 + second.values[0],))
    measure = _plain(tokens, place + 1)
    return Measure(place, measure.end, ((joined, measure.unit),), spaced=True)


def _unit_ahead(tokens: list[Token], place: int) -> str:
    """Return the unit in front of a number, as Italians write it: “cm 70 x 180”; "" where it is of a number before."""
    for _ in range(MOST_SIDES):
        ahead = at(tokens, place - 1)
        apart = ahead in ("cm", "mm") and tokens[place - 1].end < tokens[place].start
        if apart and tokens[place - 1].text == ahead and not is_number(tokens, place - 2):
            return ahead
        if ahead not in TIMES or not is_number(tokens, place - 2):
            return ""
        place -= 2
    return ""


def _plain(tokens: list[Token], place: int) -> Measure:
    number = tokens[place]
    unit = _unit(tokens, place + 1, number)
    end = place + 2 if unit else place + 1
    if not unit and (ahead := _unit_ahead(tokens, place)):
        return Measure(place, end, ((number, ahead),))
    if unit == "ft":
        inches, end = _smaller(tokens, end)
        if inches is not None:
            return Measure(place, end, ((number, unit), (inches, "in")))
    elif unit == "m" and is_whole(number.text) and is_number(tokens, end):
        less, after = tokens[end], _unit(tokens, end + 1, tokens[end])
        glued = less.start == tokens[end - 1].end
        if after in ("cm", "mm") or (glued and len(less.text) in (2, 3) and less.whole and not after):
            small = after or ("cm" if len(less.text) == 2 else "mm")
            return Measure(place, end + (2 if after else 1), ((number, unit), (less, small)))
    elif unit == "m" and number.spelled and is_number(tokens, end) and not _unit(tokens, end + 1, tokens[end]) and (
            tokens[end].spelled and 10 <= tokens[end].whole < 100):  # “two metres forty”
        return Measure(place, end + 1, ((number, unit), (tokens[end], "cm")))
    return Measure(place, end, ((number, unit),))


def _smaller(tokens: list[Token], end: int) -> tuple[Token | None, int]:
    """Read the inches after feet: “2' 6"”, “2'-6"”, “five feet two”, “2 ft and 6 in”."""
    place = end + 1 if at(tokens, end) in ("-", "and") and is_number(tokens, end + 1) else end
    if not is_number(tokens, place) or not tokens[place].values[0] < 12:
        return None, end
    unit = _unit(tokens, place + 1, tokens[place])
    if unit == "in":
        return tokens[place], place + 2
    if unit or at(tokens, end) == "and" or (tokens[place].fraction and place != end):
        return None, end
    following = at(tokens, place + 1)
    free = following in TIMES | {"", ",", ".", ")", ";"} or following in LABELS
    return (tokens[place], place + 1) if free else (None, end)


def _unit(tokens: list[Token], place: int, number: Token) -> str:
    """Return the unit at a place, or "". “in” before another word is a preposition, and a lone quote no inch."""
    unit = tokens[place].unit if place < len(tokens) else ""
    if not unit or tokens[place].text != "in":
        return unit
    following = at(tokens, place + 1)
    if following in ("height", "width", "diameter", "length", "the", "total"):
        return ""
    if place + 1 < len(tokens) and tokens[place + 1].kind == "word" and following not in _AFTER_INCHES:
        return ""
    return "" if number.values[0] > 250 else unit
