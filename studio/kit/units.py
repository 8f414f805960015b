"""Sizes and amounts as people write them, and as the studio shows them.

A grammar of our own reads whole numbers, decimals, fractions, mixed numbers,
vulgar fraction characters, feet-and-inch marks and a closed list of units; pint
then converts, with exact fractions. pint's own parser is never given typed text.
A measure that is one amount here and another there is asked back until it says which.
Unit definitions: NIST Special Publication 811, Appendix B.8; imperial measures the gallon of 4.54609 L and its parts,
Weights and Measures Act 1985, Schedule 1; drams and minims NIST Handbook 44, Appendix C.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from typing import Any

import pint

from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal, decimal_string, half_up, places
from studio.kit.typed_numbers import NoNumber, bounded, read_exact, read_whole

registry: pint.UnitRegistry[Any] = pint.UnitRegistry(non_int_type=Fraction, autoconvert_offset_to_baseunit=False)

#: What people write, and the pint unit it stands for. Closed: anything else is asked back.
SPELLINGS: dict[str, dict[str, str]] = {
    "length": {
        "mm": "mm", "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
        "cm": "cm", "centimetre": "cm", "centimetres": "cm", "centimeter": "cm", "centimeters": "cm",
        "m": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
        "in": "inch", "in.": "inch", "ins": "inch", "inch": "inch", "inches": "inch", '"': "inch",
        "ft": "foot", "ft.": "foot", "foot": "foot", "feet": "foot", "'": "foot",
        "nm": "nm", "um": "um",
    },
    "mass": {
        "g": "g", "gram": "g", "grams": "g", "kg": "kg", "mg": "mg",
        "lb": "pound", "lbs": "pound", "pound": "pound", "pounds": "pound",
        "gr": "grain", "grain": "grain", "grains": "grain", "ozt": "troy_ounce",
        "dwt": "pennyweight", "pennyweight": "pennyweight", "pennyweights": "pennyweight",
    },
    "volume": {
        "ml": "mL", "millilitre": "mL", "millilitres": "mL", "milliliter": "mL", "milliliters": "mL", "cc": "mL",
        "cl": "cL", "l": "L", "litre": "L", "litres": "L", "liter": "L", "liters": "L",
        "us tbsp": "US_tablespoon", "us tsp": "US_teaspoon", "metric tbsp": "metric_tablespoon",
        "metric tsp": "metric_teaspoon",
    },
    "time": {
        "s": "second", "sec": "second", "secs": "second", "second": "second", "seconds": "second",
        "min": "minute", "mins": "minute", "minute": "minute", "minutes": "minute",
        "h": "hour", "hr": "hour", "hrs": "hour", "hour": "hour", "hours": "hour",
        "d": "day", "day": "day", "days": "day", "week": "week", "weeks": "week",
    },
    "area": {
        "m2": "m**2", "mm2": "mm**2", "cm2": "cm**2", "ft2": "foot**2", "sq ft": "foot**2", "in2": "inch**2",
    },
    "coverage": {
        "ml/m2": "mL/m**2", "l/m2": "L/m**2", "mm deep": "L/m**2",
    },
    "concentration": {"g/l": "g/L", "ml/l": "mL/L"},
    "density": {"g/ml": "g/mL", "kg/l": "kg/L", "kg/m3": "kg/m**3"},
    "count": dict.fromkeys(("sheet", "sheets", "each", "ea", "piece", "pieces", "pc", "pcs"), ""),
}
#: The unit that each kind of amount is kept in.
KEPT_IN = {
    "length": "mm", "mass": "g", "volume": "mL", "time": "minute", "area": "m**2", "coverage": "mL/m**2",
    "density": "g/mL",
}
#: What a stock unit is an amount of, and how it is spelt.
UNITS_OF_STOCK = {"g": ("mass", "g"), "mL": ("volume", "ml")}
#: Measures that are one amount here and another there: as they are written, and how people say which.
_MEASURES: dict[tuple[str, ...], tuple[str, str]] = {
    ("fl oz", "floz", "fl. oz.", "fl. oz", "fluid ounce", "fluid ounces"): ("US_fluid_ounce", "imperial_fluid_ounce"),
    ("gal", "gal.", "gallon", "gallons"): ("US_gallon", "imperial_gallon"),
    ("qt", "qt.", "quart", "quarts"): ("US_quart", "imperial_quart"),
    ("pt", "pt.", "pint", "pints"): ("US_pint", "imperial_pint"),
    ("cup", "cups"): ("cup", "imperial_cup"),
    ("fl dr", "fluid dram", "fluid drams", "fluid drachm", "fluid drachms"): ("fluid_dram", "imperial_fluid_drachm"),
    ("minim", "minims"): ("minim", "imperial_minim"),
}
_WEIGHTS: dict[tuple[str, ...], dict[str, tuple[str, ...]]] = {
    ("oz", "oz.", "ounce", "ounces"): {
        "ounce": ("av", "avdp", "avoir", "avoirdupois"), "troy_ounce": ("t", "troy", "ap", "apothecaries"),
    },
    ("dr", "dram", "drams", "drachm", "drachms"): {
        "dram": ("av", "avdp", "avoir", "avoirdupois"), "apothecary_dram": ("ap", "apothecaries"),
    },
}


def _either_side(names: tuple[str, ...], which: tuple[str, ...]) -> list[str]:
    """Return “us gal”, “gal us” and “gal (us)”: what says which stands in front or behind."""
    return [way for name in names for word in which for way in (f"{word} {name}", f"{name} {word}", f"{name} ({word})")]


for _names, (_us, _imperial) in _MEASURES.items():
    _nations: tuple[tuple[str, tuple[str, ...]], ...] = (
        (_us, ("us", "u.s.")), (_imperial, ("uk", "imp", "imp.", "imperial")),
    )
    for _unit, _said in _nations:
        for _way in _either_side(_names, _said):
            SPELLINGS["volume"][_way] = _unit
            if _names[0] == "fl oz":
                SPELLINGS["coverage"][f"{_way}/ft2"] = f"{_unit}/foot**2"
SPELLINGS["volume"] |= dict.fromkeys(_either_side(("cup", "cups"), ("metric",)), "metric_cup")
for _names, _sorts in _WEIGHTS.items():
    for _unit, _sort in _sorts.items():
        SPELLINGS["mass"] |= dict.fromkeys(_either_side(_names, _sort), _unit)

_OUNCE = ("An ounce is 28.350 g avoirdupois or 31.103 g troy by weight, 29.574 mL US or 28.413 mL imperial by volume: "
          "write “oz av”, “oz troy”, “US fl oz” or “imp fl oz”.")
#: What is asked back, by the words that are written (US and imperial in front of “oz” still leave fluid or weight).
ASKED_BACK = {
    r"(?:(?:us|uk|imp|imperial) )?(?:oz|ounces?)": _OUNCE,
    r"fl(?:uid|\.)? ?(?:oz|ounces?)":
        "A fluid ounce is 29.574 mL in the US and 28.413 mL imperial: write “US fl oz” or “imp fl oz”.",
    r"gal(?:lons?)?": "A gallon is 3.785 L in the US and 4.546 L imperial: write “US gal” or “imp gal”.",
    r"(?:qt|quarts?)": "A quart is 946.4 mL in the US and 1136.5 mL imperial: write “US qt” or “imp qt”.",
    r"(?:pt|pints?)": "A pint is 473.2 mL in the US and 568.3 mL imperial: write “US pt” or “imp pt”.",
    r"cups?": "A cup is 236.6 mL in the US, 250 mL metric and 284.1 mL imperial: write “US cup”, “metric cup” or "
              "“imp cup”.",
    r"(?:(?:us|uk|imp|imperial) )?(?:dr|drams?|drachms?)":
        "A dram is 1.772 g avoirdupois or 3.888 g apothecaries’ by weight, 3.697 mL US or 3.552 mL imperial by volume"
        ": write “dram av”, “dram ap”, “US fl dr” or “imp fl dr”.",
    r"fl(?:uid|\.)? (?:dr|drams?|drachms?)":
        "A fluid dram is 3.697 mL in the US and 3.552 mL imperial: write “US fl dr” or “imp fl dr”.",
    r"minims?": "A minim is 0.0616 mL in the US and 0.0592 mL imperial: write “US minim” or “imp minim”.",
    r"(?:tbsp|tablespoons?)": "A tablespoon is 15 mL in metric recipes and 14.787 mL in US ones: write “15 mL” or "
                              "“us tbsp”.",
    r"(?:tsp|teaspoons?)": "A teaspoon is 5 mL in metric recipes and 4.929 mL in US ones: write “5 mL” or “us tsp”.",
}
# The trade's spoons and quarts that pint does not name; the rest of the table is pint's own.
registry.define("US_tablespoon = US_fluid_ounce / 2")
registry.define("US_teaspoon = US_fluid_ounce / 6")
registry.define("US_quart = US_pint * 2")
registry.define("US_gallon = US_pint * 8")
registry.define("metric_tablespoon = 15 * milliliter")
registry.define("metric_teaspoon = 5 * milliliter")
registry.define("metric_cup = 250 * milliliter")

_MARKS = str.maketrans({
    "″": '"', "“": '"', "”": '"', "′": "'", "’": "'", "‘": "'", "×": "x", "⁄": "/", "²": "2", "³": "3",
    "\u00a0": " ", "\u2009": " ", "\u202f": " ", "−": "-", "–": "-", "µ": "u", "μ": "u",
})
_NUMBER = re.compile(
    r"""(?:
        (?P<whole>\d{1,9})[\s-]+(?P<mixed_top>\d{1,4})\s*/\s*(?P<mixed_bottom>\d{1,4})
      | (?P<top>\d{1,6})\s*/\s*(?P<bottom>\d{1,6})
      | (?P<grouped>\d{1,3}(?:[,\ ]\d{3})+(?=\s*(?:mm|millimet(?:re|er)s?)\b))
      | (?P<decimal>\d{0,12}[.,]\d{1,12}|\d{1,12})
    )""",
    re.VERBOSE,
)


class NotUnderstood(DaybookError, ValueError):
    """What was typed is no size or amount that can be read."""


class TwoMeanings(NotUnderstood):
    """A measure that is one amount here and another there; the sentence says how to write either."""


@dataclass(frozen=True)
class _Token:
    number: Fraction
    fraction: bool
    unit: str


def parse_amount(text: str, kind: str, default_unit: str = "") -> pint.Quantity[Any]:
    """Read one amount of a kind ("length", "mass", "volume", "time", "coverage", …).

    default_unit: a spelling used where none was written; without it the unit is asked for.
    Raises NotUnderstood with a sentence that says what to write instead.
    """
    tokens, rest = _tokens(_clean(text), kind)
    if rest or not tokens:
        raise NotUnderstood(f"“{text.strip()}” was not understood as a {kind}: write for instance {_EXAMPLES[kind]}.")
    return _joined(tokens, text, kind, default_unit)


_EXAMPLES = {
    "length": "“610 mm”, “61 cm”, “24 3/8 in” or “2' 0 3/8\"”", "mass": "“500 g” or “1.5 lb”",
    "volume": "“250 mL” or “8 US fl oz”", "time": "“30 s” or “5 min”", "area": "“0.25 m2”",
    "coverage": "“300 mL/m2” or “8 US fl oz/ft2”", "density": "“1.19 g/mL”",
    "concentration": "“1.2 g/L” or “5 mL/L”", "count": "“4” or “4 sheets”",
}


def amount_in(text: str, kind: str, default_unit: str = "") -> Fraction:
    """Read one amount and return its magnitude in the unit that its kind is kept in."""
    return Fraction(parse_amount(text, kind, default_unit).to(KEPT_IN[kind]).magnitude)


@dataclass(frozen=True, kw_only=True)
class Size:
    """A size as understood, in mm; a single measure (a diameter) stands in both.

    doubt: what is to be asked of how its units were written, or "".
    bare: no unit was written, nor a fraction, which is in inches: the unit is the one that was given for such.
    """

    width_mm: Fraction
    height_mm: Fraction
    single: bool
    doubt: str = field(default="", compare=False)
    bare: bool = field(default=False, compare=False)


def size_unit(preference: str) -> str:
    """Return the unit that a bare length is in, by how the studio measures."""
    return "mm" if preference == "metric" else "in"


def parse_size(text: str, default_unit: str = "mm") -> Size:
    """Read “24 3/8 x 36”, “610 x 915 mm”, “2' 0 3/8\" by 3'”, or one measure such as “61cm”.

    A unit written on one side counts for both, metres only as far as a pane goes: “1.2m x 400” is
    1200 × 400 mm. A fraction without any unit is inches; a bare number is in default_unit.
    Lengths are kept to the nanometre. Raises NotUnderstood.
    """
    cleaned = re.sub(r"\b(?:dia|diam|diameter|round|wide|high|w|h)\b\.?|ø|⌀", " ", _clean(text))
    if _ONLY_MM.fullmatch(cleaned):
        cleaned = re.sub(r"(?<=\d),(?=\d{3}(?!\d))", "", cleaned)  # “1,500 x 900 mm”: no pane is cut to a micron
    sides = [side.strip() for side in re.split(r"\s*(?:\bx\b|x|\bby\b|\*)\s*", cleaned)]
    if not all(sides) or len(sides) > 2:
        raise NotUnderstood(
            f"“{text.strip()}” was not understood as a size: write width × height, for instance “610 x 915 mm”, "
            "“24 3/8 x 36” or “2' 0 3/8\" x 3'”.", "size_text",
        )
    read = []
    for side in sides:
        tokens, rest = _tokens(side, "length")
        if rest or not tokens:
            what = f"“{rest}” in " if rest and rest != side else ""
            raise NotUnderstood(
                f"{what}“{text.strip()}” was not understood as a size: write for instance “610 x 915 mm”, "
                "“24 3/8 x 36” or “61cm”.", "size_text",
            )
        read.append(tokens)
    written = [token.unit for tokens in read for token in tokens if token.unit]
    fractions = any(token.fraction for tokens in read for token in tokens)
    fallback = written[-1] if written else "inch" if fractions else SPELLINGS["length"][default_unit]
    if fallback == "foot" and any(len(tokens) > 1 for tokens in read):
        fallback = "inch"
    units = [_unit_of_side(tokens, fallback, text) for tokens in read]
    measures = [
        half_up(Fraction(_sum(tokens, unit).to("mm").magnitude), places(6))
        for tokens, unit in zip(read, units, strict=True)
    ]
    if any(measure <= 0 for measure in measures):
        raise NotUnderstood("A size must be above zero.", "size_text")
    return Size(width_mm=measures[0], height_mm=measures[-1], single=len(measures) == 1,
                doubt=_inches_by_millimetres(read, fallback) or _spaced(cleaned), bare=not written and not fractions)


#: a size with no other unit than mm
_ONLY_MM = re.compile(r"[\d.,\s/-]+(?:mm)?\s*(?:(?:x|by|\*)[\d.,\s/-]+)?mm\s*")
_SPACED = re.compile(r"\b(\d{1,2}) (\d{3})\s*(?:mm|millimet)")


def _spaced(cleaned: str) -> str:
    """Return what to ask of “2 600 mm”: a space groups thousands, or parts a count from a side."""
    found = _SPACED.search(cleaned)
    return f"Is “{found[1]} {found[2]}” one number, and the {found[1]} no quantity?" if found else ""


#: a bare number beside metres is metres up to here, and millimetres from there
_METRES_AT_MOST, _MILLIMETRES_AT_LEAST = 6, 100


def _unit_of_side(tokens: list[_Token], fallback: str, text: str) -> str:
    """Return the unit of a side's bare numbers. Raises NotUnderstood for one that can be neither metres nor mm."""
    bare = [token.number for token in tokens if not token.unit]
    if fallback != "m" or not bare or bare[0] <= _METRES_AT_MOST:
        return fallback
    if bare[0] < _MILLIMETRES_AT_LEAST:
        raise NotUnderstood(
            f"“{text.strip()}” has metres on one side and no unit on the other: write the unit of both, for instance "
            "“1.2 m x 40 cm”.", "size_text",
        )
    return "mm"


def _inches_by_millimetres(sides: list[list[_Token]], fallback: str) -> str:
    """Return what to ask of “24 3/8 x 36mm”: a fraction is mostly inches, and the millimetres stand elsewhere."""
    if fallback not in ("mm", "cm", "m", "nm", "um"):
        return ""
    if not any(token.fraction and not token.unit for tokens in sides for token in tokens):
        return ""
    return (f"A fraction is mostly inches, and the unit that is written is {fallback}: is all of it in {fallback}? If "
            "not, write the unit on both sides, for instance “24 3/8 in x 36 mm”.")


def _clean(text: str) -> str:
    try:
        return plain_text(bounded(text))
    except NoNumber as refusal:
        raise NotUnderstood(str(refusal)) from refusal


def plain_text(text: str) -> str:
    """Return typed text in small letters, with plain marks for inches, feet, times and vulgar fractions."""
    spread = "".join(_spread_vulgar(character) for character in text)
    spaced = spread.translate(_MARKS).replace("''", '"')
    joined = re.sub(r"(?<=[a-z])\s*/\s*(?=[a-z])", "/", spaced.lower())
    return re.sub(r"\s+", " ", joined).strip()


def _spread_vulgar(character: str) -> str:
    """Turn ⅜ into “ 3/8”, so that 24⅜ reads as 24 3/8."""
    if unicodedata.category(character) != "No" or not unicodedata.decomposition(character).startswith("<fraction>"):
        return character
    return " " + unicodedata.normalize("NFKD", character).replace("⁄", "/")


def _tokens(text: str, kind: str) -> tuple[list[_Token], str]:
    """Split text into numbers with their units; return them and what was not understood."""
    spellings = SPELLINGS[kind]
    tokens: list[_Token] = []
    while text:
        found = _NUMBER.match(text)
        if not found:
            return tokens, text
        number = _number(found)
        after = text[found.end():].lstrip()
        unit = next((s for s in _longest_first(kind) if _starts(after, s)), "")
        if not unit:
            _ask_back(after, kind)
        tokens.append(_Token(number, "/" in found.group(), spellings.get(unit, "")))
        text = after[len(unit):].lstrip(" ")
        if not unit and text:
            return tokens, text
    return tokens, text


@cache
def _longest_first(kind: str) -> tuple[str, ...]:
    return tuple(sorted(SPELLINGS[kind], key=len, reverse=True))


def _starts(text: str, spelling: str) -> bool:
    if not text.startswith(spelling):
        return False
    following = text[len(spelling):len(spelling) + 1]
    return not (spelling[-1].isalnum() or spelling[-1] == ".") or not following.isalpha()


def _ask_back(after: str, kind: str) -> None:
    """Raise TwoMeanings for a measure that does not say which; one that does is understood as another kind."""
    if kind not in _POURED_OR_WEIGHED:
        return
    if any(_starts(after, said) for other in _POURED_OR_WEIGHED for said in _longest_first(other)):
        return
    for written, sentence in ASKED_BACK.items():
        if re.match(rf"{written}(?![a-z])", after):
            raise TwoMeanings(sentence)


_POURED_OR_WEIGHED = ("mass", "volume", "coverage")


def _number(found: re.Match[str]) -> Fraction:
    if found["whole"]:
        return read_whole(found["whole"]) + _over(found["mixed_top"], found["mixed_bottom"])
    if found["top"]:
        return _over(found["top"], found["bottom"])
    if found["grouped"]:
        return read_exact(re.sub("[, ]", "", found["grouped"]))
    written = found["decimal"]
    if re.fullmatch(r"\d{1,3},\d{3}", written):
        thousand, decimal = written.replace(",", ""), written.replace(",", ".")
        raise NotUnderstood(f"“{written}” could be {thousand} or {decimal}: write it without the comma.")
    return read_exact(written.replace(",", "."))


def _over(top: str, bottom: str) -> Fraction:
    if read_whole(bottom) == 0:
        raise NotUnderstood(f"“{top}/{bottom}” divides by nothing.")
    return Fraction(read_whole(top), read_whole(bottom))


def _sum(tokens: list[_Token], fallback: str) -> pint.Quantity[Any]:
    total = registry.Quantity(Fraction(0), "mm")
    for token in tokens:
        total = total + registry.Quantity(token.number, token.unit or fallback)
    return total


def _joined(tokens: list[_Token], text: str, kind: str, default_unit: str) -> pint.Quantity[Any]:
    fallback = SPELLINGS[kind].get(default_unit, "")
    if kind == "length" and len(tokens) > 1 and tokens[0].unit == "foot":
        return _sum(tokens, "inch")
    if len(tokens) > 1:
        raise NotUnderstood(f"“{text.strip()}” holds more than one amount.")
    unit = tokens[0].unit or fallback
    if not unit and kind != "count":
        raise NotUnderstood(f"“{text.strip()}” needs a unit: write for instance {_EXAMPLES[kind]}.")
    return registry.Quantity(tokens[0].number, unit)


def stock_amount(text: str, stock_unit: str, density_g_per_ml: Fraction | None = None) -> Fraction:
    """Read an amount of a material in its stock unit; mass and volume convert by density.

    Raises NotUnderstood.
    """
    if stock_unit in ("sheet", "each"):
        return Fraction(parse_amount(text, "count").magnitude)
    own, other = ("mass", "volume") if stock_unit == "g" else ("volume", "mass")
    try:
        return amount_in(text, own)
    except NotUnderstood as refusal:
        if density_g_per_ml is None:
            raise
        try:
            amount = amount_in(text, other)
        except NotUnderstood:
            raise refusal from None
        return amount * density_g_per_ml if stock_unit == "g" else amount / density_g_per_ml


#: nominal thickness of float glass by its name in inches, in mm: ASTM C1036
NOMINAL_MM = {
    Fraction(3, 32): Fraction(5, 2), Fraction(1, 8): Fraction(3), Fraction(5, 32): Fraction(4),
    Fraction(3, 16): Fraction(5), Fraction(1, 4): Fraction(6), Fraction(5, 16): Fraction(8),
    Fraction(3, 8): Fraction(10), Fraction(1, 2): Fraction(12), Fraction(5, 8): Fraction(16),
    Fraction(3, 4): Fraction(19),
}


def glass_thickness_mm(text: str, default_unit: str = "mm") -> Fraction:
    """Read the thickness of glass; “1/4 in” and a bare “1/4” are the trade's name of 6 mm. Raises NotUnderstood."""
    tokens, rest = _tokens(_clean(text), "length")
    if not rest and len(tokens) == 1 and tokens[0].number in NOMINAL_MM:
        unit = tokens[0].unit or ("inch" if tokens[0].fraction else SPELLINGS["length"][default_unit])
        if unit == "inch":
            return NOMINAL_MM[tokens[0].number]
    return amount_in(text, "length", default_unit)


def show_length(length_mm: Fraction, preference: str = "metric") -> str:
    """Return a length for reading: “619.1 mm”, or “24 3/8 in” to the nearest 1/64, marked ≈ when not exact."""
    if preference == "metric":
        return f"{decimal_string(length_mm, 1)} mm"
    inches = length_mm / Fraction(254, 10)
    nearest = half_up(inches, Fraction(1, 64))
    whole, part = divmod(nearest, 1)
    shown = f"{whole} {part}" if whole and part else f"{part or whole}"
    return f"{'' if abs(nearest - inches) < Fraction(1, 20000) else '≈ '}{shown} in"


_TEMPERATURE = re.compile(
    r"(?P<sign>[-+]?)\s*(?P<number>\d{1,4}(?:[.,]\d{1,6})?)\s*(?P<unit>°?\s*[cf])?(?:elsius|ahrenheit)?"
)


def temperature_c(text: str, preference: str = "metric") -> Fraction:
    """Read “20 C”, “68 °F” or, in the studio's own unit, “20”; return degrees Celsius, (F − 32) / 1.8.

    Raises NotUnderstood.
    """
    found = _TEMPERATURE.fullmatch(_clean(text))
    if not found:
        raise NotUnderstood(
            f"“{text.strip()}” was not understood as a temperature: write for instance “20 °C” or “68 °F”."
        )
    degrees = read_exact(found["number"].replace(",", ".")) * (-1 if found["sign"] == "-" else 1)
    unit = (found["unit"] or ("c" if preference == "metric" else "f"))[-1]
    return degrees if unit == "c" else (degrees - 32) / Fraction(18, 10)


def share_of(text: str) -> Fraction:
    """Read a share: “10 %”, “0.1” or “1/10”. Raises NotUnderstood."""
    cleaned = _clean(text)
    bare = cleaned.removesuffix("%").strip()
    tokens, rest = _tokens(bare, "count")
    if rest or len(tokens) != 1:
        raise NotUnderstood(f"“{text.strip()}” was not understood as a share: write for instance “10 %” or “0.1”.")
    return tokens[0].number / (100 if cleaned.endswith("%") else 1)


def plain_number(text: str) -> Fraction:
    """Read a number without a unit: “2”, “0.5”, “1 1/2”, “½”. Raises NotUnderstood."""
    tokens, rest = _tokens(_clean(text), "count")
    if rest or len(tokens) != 1:
        raise NotUnderstood(f"“{text.strip()}” was not understood as a number: write for instance “2”, “0.5” or “1/2”.")
    return tokens[0].number


def show_volume(volume_ml: Fraction, preference: str = "metric") -> str:
    """Return “180 mL”, “2.4 L” from ten litres up, or US fluid ounces, marked ≈ where that is rounded."""
    if preference == "metric" and volume_ml >= 10_000:
        return f"{decimal_string(volume_ml / 1000, 6)} L"
    if preference == "metric":
        return f"{decimal_string(volume_ml, 3)} mL"
    return _shown(volume_ml / FLUID_OUNCE_ML, "US fl oz")


def show_coverage(ml_per_m2: Fraction, preference: str = "metric") -> str:
    """Return “300 mL/m²”, or US fluid ounces per square foot."""
    if preference == "metric":
        return f"{decimal_string(ml_per_m2, 6)} mL/m²"
    return _shown(ml_per_m2 / ML_PER_M2_OF_FL_OZ_PER_FT2, "US fl oz/ft²")


def show_temperature(degrees_c: Fraction, preference: str = "metric") -> str:
    if preference == "metric":
        return f"{decimal_string(degrees_c, 6)} °C"
    return _shown(degrees_c * Fraction(18, 10) + 32, "°F")


def _shown(figure: Fraction, unit: str) -> str:
    rounded = half_up(figure, places(3))
    return f"{'' if rounded == half_up(figure, places(9)) else '≈ '}{decimal_string(rounded, 3)} {unit}"


FLUID_OUNCE_ML = Fraction(registry.Quantity(Fraction(1), "US_fluid_ounce").to("mL").magnitude)
ML_PER_M2_OF_FL_OZ_PER_FT2 = Fraction(registry.Quantity(Fraction(1), "US_fluid_ounce/foot**2").to("mL/m**2").magnitude)


def show_size(width_mm: Fraction, height_mm: Fraction, preference: str = "metric", *, round_: bool = False) -> str:
    """Return “610 × 915 mm”, or “Ø 762 mm” for a circle."""
    unit = " mm" if preference == "metric" else " in"
    width, height = show_length(width_mm, preference), show_length(height_mm, preference)
    about = "≈ " if "≈" in width + height else ""
    width, height = width.removeprefix("≈ "), height.removeprefix("≈ ")
    return about + (f"Ø {width}" if round_ else f"{width.removesuffix(unit)} × {height}")


#: The larger and the smaller unit that people say of a stock unit, a thousand to one.
_SAID_OF = {"g": ("kg", "mg"), "mL": ("L", "µL")}
#: What is counted, as one and as several.
_COUNTED = {"sheet": ("sheet", "sheets"), "each": ("piece", "pieces")}


def show_stock(quantity: Fraction, stock_unit: str) -> str:
    """Return an amount for reading: “78.1 L”, “1.43 L”, “674 g”, “17 sheets”; never one to weigh or pour by.

    Three significant figures, four from a thousand up, half up, in the unit that a person says; litres and kilograms
    always with three, so that a column of them lines up: “3.00 L”.
    """
    sign, size = "−" if quantity < 0 else "", _three_figures(abs(quantity))
    larger, smaller = _SAID_OF.get(stock_unit, ("", ""))
    if larger and size >= 1000:
        size = _three_figures(abs(quantity) / 1000)
        return f"{sign}{as_decimal(size):,.{max(0, 3 - len(str(int(size))))}f} {larger}"
    if smaller and 0 < size < Fraction(1, 10):
        size, unit = _three_figures(abs(quantity) * 1000), smaller
    else:
        unit = unit_of(size, stock_unit)
    return f"{sign}{as_decimal(size):,f} {unit}".rstrip()


def unit_of(quantity: Fraction, stock_unit: str) -> str:
    """Return a stock unit as it stands behind an amount: 1 sheet, 2 sheets; g and mL as they are."""
    singular, plural = _COUNTED.get(stock_unit, (stock_unit, stock_unit))
    return singular if abs(quantity) == 1 else plural


def _three_figures(value: Fraction) -> Fraction:
    """Round half up to three significant figures; whole thousands keep four."""
    if not value:
        return value
    power = 0
    while value >= 10 ** (power + 1):
        power += 1
    while value < Fraction(10) ** power:
        power -= 1
    return half_up(value, Fraction(10) ** (power - 2 if power < 3 else power - 3))
