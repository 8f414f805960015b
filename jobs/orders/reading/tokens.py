"""A row as tokens: numbers with all they may be worth, words, signs, and asides; each knows where it stands. Pure."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from jobs.orders.reading.asides import asides
from studio.kit.typed_numbers import NoNumber, read_exact, read_whole
from studio.kit.units import SPELLINGS

Kind = Literal["number", "word", "sign", "aside"]

#: what people write of a length beside the spellings the whole house reads
UNITS: dict[str, str] = {
    spelling: {"inch": "in", "foot": "ft"}.get(unit, unit)
    for spelling, unit in SPELLINGS["length"].items() if unit in ("mm", "cm", "m", "inch", "foot")
} | {"mms": "mm", "cms": "cm", "mtr": "m", "mtrs": "m", "mil": "mm", "mill": "mm", "mils": "mm", "inchs": "in",
     "fts": "ft", "foots": "ft", "millimetres": "mm", "centimeter": "cm", "in.s": "in"}

#: one sign for another, character for character, so that places in the row stay
_PLAIN = str.maketrans({
    "″": '"', "“": '"', "”": '"', "„": '"', "′": "'", "’": "'", "‘": "'", "×": "x", "✕": "x", "⁄": "/", "−": "-",
    "–": "-", "—": "-", "\t": " ", "\n": " ", "⌀": "ø", "∅": "ø", "⨯": "x", "²": "2",
})
#: spaces that a printed figure is grouped with
_NARROW = "\u00a0\u202f\u2009"
_VULGAR = "¼½¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"
_TOKEN = re.compile(rf"""
    (?P<mixed>\d{{1,4}}(?:\s?-\s?|\s)\d{{1,2}}\s?/\s?(?:[2-6]|8|10|12|16|32|64|100)(?![\d/])|\d{{1,4}}\s?-?[{_VULGAR}])
  | (?P<fraction>\d{{1,3}}\s?/\s?(?:[2-6]|8|10|12|16|32|64|100)(?![\d/])|[{_VULGAR}])
  | (?P<grouped>\d{{1,3}}(?:[{_NARROW}]\d{{3}})+(?!\d)|\d{{1,3}}(?:,\d{{3}})+(?:\.\d{{1,3}})?(?![\d,]))
  | (?P<decimal>\d+[.,]\d+(?![\d])|(?<![\w.])\.\d+)
  | (?P<whole>\d+)
  | (?P<word>[^\W\d_]+(?:['-][^\W\d_]+)*\.?)
  | (?P<mark>''|["'])
  | (?P<sign>\S)
""", re.VERBOSE)
_GLUED = re.compile(r"(mm|cm|m|in|ins|inches|ft|w|h)(x|by)")

#: a number in words tied to what it counts: “three-off”, “four-panel”
_COUNTED = re.compile(r"([a-z]+(?<=one|two|ree|our|ive|six|ven|ght|ine|ten))(-)(off|no|nr|panels?|panes?|lea(?:f|ves)"
                      r"|folds?|pieces?|parts?|sections?|doors?|lights?)")

_ONES = {word: number for number, word in enumerate("""zero one two three four five six seven eight nine ten eleven
    twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen""".split())}  # noqa: SIM905 - words read as words
_TENS = {"twenty": 20, "thirty": 30, "forty": 40, "fourty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80,
         "ninety": 90}
_PARTS = {"half": Fraction(1, 2), "quarter": Fraction(1, 4), "eighth": Fraction(1, 8)}


@dataclass(frozen=True)
class Token:
    """One token. text: small letters, plain signs; values: of a number, the likeliest first; said: what an aside is.

    spelled: a number in words. grouped: written with a thousands mark, values[0] the thousands.
    """

    kind: Kind
    text: str
    start: int
    end: int
    values: tuple[Fraction, ...] = ()
    said: str = ""
    spelled: bool = False
    fraction: bool = False
    grouped: bool = False
    printed: bool = False

    @property
    def whole(self) -> int:
        """Return a whole number's worth, or 0."""
        return int(self.values[0]) if self.values and self.values[0].denominator == 1 and not self.fraction else 0

    @property
    def unit(self) -> str:
        return UNITS.get(self.text, UNITS.get(self.text.rstrip("."), "")) if self.kind in ("word", "sign") else ""

    @property
    def bare(self) -> str:
        """Return a word without its full stop."""
        return self.text.rstrip(".") if self.kind == "word" else self.text


def plain(text: str) -> str:
    """Return text in small letters with plain signs, each character in its place."""
    return "".join(low if len(low := character.lower()) == 1 else character
                   for character in text.translate(_PLAIN))


def tokens_of(text: str) -> list[Token]:
    """Split a passage into tokens."""
    written = plain(text)
    tokens: list[Token] = []
    start = 0
    for begin, end, said in [*asides(written), (len(written), len(written), "")]:
        tokens += _split(written, start, begin)
        if said:
            tokens.append(Token("aside", written[begin:end], begin, end, said=said))
        start = end
    return list(_in_words(tokens))


def _split(written: str, start: int, end: int) -> Iterator[Token]:
    for found in _TOKEN.finditer(written, start, end):
        kind, text = str(found.lastgroup), found.group()
        glued = _GLUED.fullmatch(text)
        counted = _COUNTED.fullmatch(text) if kind == "word" else None
        if counted:
            for part in (1, 2, 3):
                yield Token("sign" if part == 2 else "word", counted[part], found.start() + counted.start(part),
                            found.start() + counted.end(part))
        elif glued:
            middle = found.start() + len(glued[1])
            yield Token("word", glued[1], found.start(), middle)
            yield Token("word", glued[2], middle, found.end())
        elif kind in ("word", "sign", "mark"):
            text = '"' if text == "''" else _respelled(text) if kind == "word" else text
            yield Token("word" if kind == "word" else "sign", text, *found.span())
        else:
            try:
                yield _number(kind, text, *found.span())
            except NoNumber:  # too long to be meant, or in other figures than 0 to 9
                yield Token("word", text, *found.span())


#: words that an order hangs on, and that people mistype
_MISTYPED = frozenset("""piece pieces mirror mirrors panel panels height width diameter quantity rectangle rectangular
    square circle circular meant actually opening openings bevelled polished metres inches""".split())  # noqa: SIM905 - words as words
#: words of their own that are one letter from those
_OWN_WORDS = frozenset("""apiece pane panes paneled eight eights weight heights widths circles squared squares squire
    metre inch polish bevel open mean mirrored panelled rectangles quantities diameters""".split())  # noqa: SIM905 - words as words


def _respelled(word: str) -> str:
    """Return the word that a mistyped one stands for: two letters changed about, one left out, one too many."""
    bare = word.rstrip(".")
    if len(bare) < 5 or bare in _MISTYPED or bare in _OWN_WORDS:
        return word
    meant = [known for known in _MISTYPED if abs(len(known) - len(bare)) <= 1 and bare[0] == known[0] and (
        _one_apart(bare, known))]
    return meant[0] + word[len(bare):] if len(meant) == 1 else word


def _one_apart(one: str, other: str) -> bool:
    if len(one) == len(other):
        unlike = [place for place in range(len(one)) if one[place] != other[place]]
        return len(unlike) == 2 and unlike[1] == unlike[0] + 1 and (
            one[unlike[0]] + one[unlike[1]] == other[unlike[1]] + other[unlike[0]])
    short, long = sorted((one, other), key=len)
    return any(long[:place] + long[place + 1:] == short for place in range(len(long)))


def _number(kind: str, text: str, start: int, end: int) -> Token:
    values: tuple[Fraction, ...]
    if kind in ("mixed", "fraction"):
        values = (_mixed(text),)
    elif kind == "grouped":
        bare = re.sub(rf"[,{_NARROW}]", "", text)
        values = (read_exact(bare),)
        if text.count(",") == 1 and "." not in text:
            values = (read_exact(bare), read_exact(text.replace(",", ".")))
    else:
        values = (read_exact(text.replace(",", ".")),)
    return Token("number", text, start, end, values, fraction=kind in ("mixed", "fraction"),
                 grouped=kind == "grouped", printed=any(space in text for space in _NARROW))


def _mixed(text: str) -> Fraction:
    """Return the worth of “24 3/8”, “24-3/8”, “24⅜”, “3/8” or “⅜”; nought where it divides by nothing."""
    spread = "".join(
        " " + unicodedata.normalize("NFKD", character).replace("⁄", "/") if character in _VULGAR else character
        for character in text
    )
    total = Fraction(0)
    for part in re.split(r"[\s-]+", re.sub(r"\s*/\s*", "/", spread).strip()):
        top, _, bottom = part.partition("/")
        if bottom and not read_whole(bottom):
            return Fraction(0)
        total += Fraction(read_whole(top), read_whole(bottom or "1"))
    return total


def _in_words(tokens: list[Token]) -> Iterator[Token]:
    """Join numbers written in words into one token each: “twelve hundred”, “five and a half”, “twenty-four”."""
    at = 0
    while at < len(tokens):
        end, value = _spelled(tokens, at)
        if end > at:
            yield replace(tokens[at], kind="number", end=tokens[end - 1].end, values=(value,), spelled=True,
                          text=" ".join(token.text for token in tokens[at:end]), fraction=value.denominator > 1)
            at = end
        else:
            yield tokens[at]
            at += 1


def _spelled(tokens: list[Token], at: int) -> tuple[int, Fraction]:
    """Return where a number in words ends, and its worth; at itself where there is none."""
    if by_itself := _a_metre(tokens, at):
        return by_itself
    total, last, end = Fraction(0), Fraction(0), at
    while end < len(tokens) and tokens[end].kind == "word":
        word = tokens[end].bare
        parts = word.split("-")
        following = tokens[end + 1].bare if end + 1 < len(tokens) else ""
        worth = Fraction(sum(_ONES.get(part, _TENS.get(part, 0)) for part in parts))
        if worth and all(part in _ONES or part in _TENS for part in parts):
            if last and not (last >= 20 and last % 10 == 0 and worth < 10) and last < 100:
                break
            total, last = total + worth, worth
        elif word in ("hundred", "thousand") and total and last < 100:
            total = total * 100 if word == "hundred" else total * 1000
            last = Fraction(100)
        elif word == "and" and last == 100 and (following in _ONES or following.split("-")[0] in _TENS):
            pass
        elif word == "and" and total and following == "a" and _part(tokens, end + 2):
            return end + 3, total + _part(tokens, end + 2)
        else:
            break
        end += 1
    return end, total


_WHOLE_UNITS = {"metre", "meter", "foot"}
_BY = {"by", "x", "*"}


def _a_metre(tokens: list[Token], at: int) -> tuple[int, Fraction] | None:
    """Read the “a” and the “half a” of “a metre by half a metre” as one and a half."""
    words = [token.bare if token.kind in ("word", "sign") else "" for token in tokens[max(at - 1, 0):at + 5]]
    before, words = (words[0], words[1:]) if at else ("", words)
    half = words[:1] == ["half"]
    if words[half:half + 1] not in (["a"], ["an"]) or not set(words[half + 1:half + 2]) & _WHOLE_UNITS:
        return None
    if before not in _BY and not set(words[half + 2:half + 3]) & (_BY | {"square", "across"}):
        return None
    return at + 1 + half, Fraction(1, 2) if half else Fraction(1)


def _part(tokens: list[Token], at: int) -> Fraction:
    return _PARTS.get(tokens[at].bare, Fraction(0)) if at < len(tokens) else Fraction(0)
