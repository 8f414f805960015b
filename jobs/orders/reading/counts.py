"""How many: figures and words beside a size that say a count. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from jobs.orders.reading.measures import at, is_number
from jobs.orders.reading.sizes import Found
from jobs.orders.reading.tokens import Token
from jobs.orders.reading.vocabulary import FILLER, PIECES, ROUND, SHAPES, THINGS

MOST_PANES = 500
_EACH = {"@", "à", "at", "no", "nos", "off", "pc", "pcs", "pce", "ea", "nr", "nrs", "times", "x", "*", "number", "of",
         "qty",
         "each", "stk", "stück", "st", "single", "copies", "units", "individual", "identical", "matching", "more",
         "further", "other"}
_EACH_BEHIND = _EACH - {"of"}
_HOW_MANY = {"qty", "quantity", "quant", "count", "amount", "pcs", "pieces", "qnty", "q"}
_DOZEN = {"dozen": 12, "doz": 12, "gross": 144, "score": 20}
_NO_PIECES = {"side", "sides", "edge", "edges", "end", "ends", "face", "faces", "way", "ways", "long", "short",
              "vertical", "horizontal", "top", "surfaces", "hands"}
_PAIRS = {"pair": 2, "pairs": 2, "couple": 2, "both": 2, "twice": 2, "thrice": 3, "twin": 2, "trio": 3, "dozen": 12,
          "doz": 12, "gross": 144, "score": 20, "quartet": 4}
_ASKING = {"?", "how", "would", "much", "if", "could", "what", "can", "cost", "price", "or"}
#: how large a pane is, in front of its size
_OF_SIZE = frozenset("""large lge lrg lg big small sml sm medium med tall short narrow wide long mini tiny
    smaller larger straight plain flat""".split())  # noqa: SIM905 - words as words
_SPARES = {"spare", "spares", "extra", "extras"}


@dataclass
class Count:
    """Counts that a passage says: each with its tokens; spare: said beside as “plus one spare”.

    open: a bare figure beside the size that may be the count.
    """

    said: list[int] = field(default_factory=list)
    both: bool = False
    spare: int = 0
    open: list[int] = field(default_factory=list)
    used: set[int] = field(default_factory=set)

    @property
    def quantity(self) -> int:
        """Return how many, spares included; 0 where it is said in two ways that differ."""
        said = set(self.said)
        if self.both:
            said = {2} if sum(self.said) in (2, 4) or said <= {2} else {0, 1}
        if len(said) > 1:
            return 0
        return (said.pop() if said else 1) + self.spare


def count_of(tokens: list[Token], found: Found) -> Count:
    """Return what a passage says of how many of its one size."""
    count = Count(said=[found.count] if found.count else [])
    taken = set(range(found.start, found.end))
    place = 0
    while place < len(tokens):
        span = () if place in taken | count.used else _span(tokens, place, found, count)
        count.used.update(span)
        place = max(span, default=place) + 1
    return count


def _span(tokens: list[Token], place: int, found: Found, count: Count) -> tuple[int, ...]:
    word = at(tokens, place)
    if word in _PAIRS and not (word == "both" and _points_back(tokens, place)) and not (
            word == "score" and at(tokens, place - 1) not in ("a", "one", "half")):
        return _in_words(tokens, place, count)
    if not is_number(tokens, place):
        return ()
    number = tokens[place].whole
    if word_half := _half_dozen(tokens, place, count):
        return word_half
    if not number or tokens[place].fraction or (place + 1 < len(tokens) and _unit_behind(tokens, place)):
        return ()
    if at(tokens, place + 1) in PIECES and _counted_behind_colon(tokens, place, found):
        return (place,)
    span = _spare(tokens, place, count) or _said(tokens, place, found)
    if span and count.spare and set(span) & _spare_places(tokens):
        return span
    if span:
        following = _DOZEN.get(at(tokens, place + 1), _PAIRS.get(at(tokens, place + 1), 1))
        count.said.append(number * following)
        return (*span, place + 1) if following > 1 else span
    if _open(tokens, place, found):
        count.open.append(number)
        return (place,)
    return ()


def _points_back(tokens: list[Token], place: int) -> bool:
    """Say whether “both” speaks of sides, or of sizes said before: “deduct 3 mm for both”."""
    behind = at(tokens, place + 1)
    return behind in _NO_PIECES or (at(tokens, place - 1) in ("for", "from", "on", "to", "off") and
                                    behind not in THINGS | PIECES | {"of"})


def _counted_behind_colon(tokens: list[Token], place: int, found: Found) -> bool:
    """Say whether a count is a total, and the size's own stands behind the colon: “4 mirrors: 2 at 600 x 900”."""
    colon = next((near for near in range(place, found.start) if at(tokens, near) == ":"), found.start)
    return found.count > 0 < found.start - colon or any(is_number(tokens, near) for near in range(colon, found.start))


def _unit_behind(tokens: list[Token], place: int) -> bool:
    """Say whether a figure is a length: “about two metres”."""
    return bool(tokens[place + 1].unit) and at(tokens, place + 1) not in ("in", '"', "'")


def _in_words(tokens: list[Token], place: int, count: Count) -> tuple[int, ...]:
    """Read “a dozen”, “half a dozen”, “a couple of”, “both”."""
    number = _PAIRS[at(tokens, place)]
    before = at(tokens, place - 1)
    span = [place]
    if before in ("a", "the", "one"):
        span.append(place - 1)
        before = at(tokens, place - 2)
        if before == "half":
            span.append(place - 2)
    elif before == "half":
        span.append(place - 1)
    if before == "half":
        number //= 2
    if at(tokens, place) == "both":
        count.both = True
    count.said.append(number)
    return tuple(span)


def _half_dozen(tokens: list[Token], place: int, count: Count) -> tuple[int, ...]:
    if tokens[place].text in ("1/2", "½") and at(tokens, place + 1) in _DOZEN:
        count.said.append(6)
        return (place, place + 1)
    return ()


def _spare(tokens: list[Token], place: int, count: Count) -> tuple[int, ...]:
    """Read “plus one spare”, “+ 2 spares”, “and an extra one”."""
    if at(tokens, place + 1) in _SPARES and at(tokens, place + 2) != "of":  # “one extra of 600 x 600”
        count.spare = tokens[place].whole
        return (place, place + 1)
    return ()


def _spare_places(tokens: list[Token]) -> set[int]:
    return {place for place in range(len(tokens)) if at(tokens, place) in _SPARES}


def lone_spare(tokens: list[Token], count: Count) -> None:
    """Read “plus a spare”."""
    for place in _spare_places(tokens):
        words = [at(tokens, near) for near in (place - 2, place - 1, place)]
        joined = words[0] in ("plus", "and", "+", "with", "&") and words[1] in ("a", "an")
        if not count.spare and joined and words[2] in ("spare", "extra"):
            count.spare = 1
            count.used |= {place, place - 1}


_TENTATIVE = {"if", "maybe", "perhaps", "possibly", "might", "whether", "unless", "optional", "optionally", "option",
              "consider", "considering", "thinking", "wondering", "depending", "sensible", "worth", "advisable",
              "advise", "recommend", "?", "poss", "ideally", "or", "probably"}
_A_SPARE = {"a", "one", "an", "any", "some", "the"}
_BEHIND_SPARE = frozenset("""one mirror panel pane please , . ? ! ) too as if in be just for would or and is might
    was""".split())  # noqa: SIM905 - words as words


def tentative(tokens: list[Token]) -> bool:
    """Say whether words leave open whether they are meant: “perhaps a spare”, “should we take one more?”."""
    return any(at(tokens, place) in _TENTATIVE for place in range(len(tokens)))


def speaks_of_a_spare(tokens: list[Token]) -> bool:
    """Say whether words name a spare that is taken or thought of, and not the spare room."""
    return any(
        (at(tokens, place - 1) in _A_SPARE or tokens[place - 1].text in _A_SPARE)
        and (place + 1 == len(tokens) or at(tokens, place + 1) in _BEHIND_SPARE)
        for place in _spare_places(tokens) if place and at(tokens, place) != "extra")


def _said(tokens: list[Token], place: int, found: Found) -> tuple[int, ...]:
    """Return the tokens that say a count, or nothing when this figure is none."""
    before, after = at(tokens, place - 1), at(tokens, place + 1)
    if after == "-" and at(tokens, place + 2) in ("off", "no", "nr") and tokens[place + 1].start == tokens[place].end:
        return (place, place + 1, place + 2)  # “2-off”
    if tokens[place].whole > 10_000 or after in ("columns", "rows", "courses"):
        return ()
    if after in _PAIRS and after != "both":
        return (place,)
    if tokens[place].spelled and tokens[place].whole == 1 and _pronoun(tokens, place):
        return ()
    for span in (_in_brackets(tokens, place), _how_many(tokens, place), _times_behind(tokens, place, found),
                 _off_behind(tokens, place, found)):
        if span:
            return span
    if place < found.start:
        if after in _EACH or after in PIECES:
            return tuple(range(place, _end_of_each(tokens, place + 1, found.start)))
        if tokens[place].spelled or _leads_to(tokens, place, found):
            return (place,) if place + 1 != found.start or tokens[place].spelled else ()
        return ()
    of_them = after == "of" and at(tokens, place + 2) in ("them", "these", "those", "each")
    if after in _EACH_BEHIND | PIECES or of_them:
        return tuple(range(place, _end_of_each(tokens, place + 1, len(tokens))))
    ends = all(at(tokens, near) in ("please", "pls", "thanks", ".", "!") for near in range(place + 1, len(tokens)))
    if tokens[place].spelled and before in ("", ",", "-", "and", "with", "so") and ends:
        return (place,)
    return ()


def _pronoun(tokens: list[Token], place: int) -> bool:
    """Say whether a “one” stands for a thing: “the larger one”, “this one”."""
    before = [at(tokens, near) for near in range(max(0, place - 3), place)]
    return bool({"the", "this", "that", "each", "every", "which"} & set(before)) and before[-1:] != ["and"]


def _end_of_each(tokens: list[Token], place: int, end: int) -> int:
    while place < end and (at(tokens, place) in _EACH | {"-"} or at(tokens, place) in ("them", "these", "those")):
        place += 1
    return place


def _in_brackets(tokens: list[Token], place: int) -> tuple[int, ...]:
    """Read “(4)”, “(x4)”, “(4 off)”, “(qty 4)”, “[4]”."""
    start = place - 1
    while at(tokens, start) in {"x", "*", ":", "."} | _HOW_MANY | {"no"}:
        start -= 1
    end = place + 1
    while at(tokens, end) in _EACH | PIECES | {"required", "needed"}:
        end += 1
    if at(tokens, start) in ("(", "[") and at(tokens, end) in (")", "]"):
        return tuple(range(start, end + 1))
    return ()


def _how_many(tokens: list[Token], place: int) -> tuple[int, ...]:
    start = place - 1
    while at(tokens, start) in (":", "=", "of", "is", "-", "."):
        start -= 1
    if at(tokens, start) in _HOW_MANY:
        end = _end_of_each(tokens, place + 1, len(tokens))
        return tuple(range(start, end if at(tokens, place + 1) != "x" else place + 1))
    if at(tokens, start) in ("no", "number") and at(tokens, place + 1) == "off":
        return tuple(range(start, place + 2))
    return ()


def _times_behind(tokens: list[Token], place: int, found: Found) -> tuple[int, ...]:
    """Read “x4”, “× 3” behind the size, and “x3 600 x 900”, “3 x ø 450” in front."""
    if at(tokens, place - 1) in ("x", "*") and place >= found.end:
        return (place - 1, place)
    if at(tokens, place - 1) == "x" and place < found.start and place - 2 < 0:
        return (place - 1, place)
    return ()


def _off_behind(tokens: list[Token], place: int, found: Found) -> tuple[int, ...]:
    """Read “off 3”, “no. 3” as the last words behind the size."""
    last = place + 1 == len(tokens) or at(tokens, place + 1) in (",", ".", ";", ")")
    if place - 1 >= found.end and last and at(tokens, place - 1) in ("off", "no", "nr"):
        return (place - 1, place)
    return ()


def _leads_to(tokens: list[Token], place: int, found: Found) -> bool:
    """Say whether words from a figure to the size name pieces: “3 antique mirror panels, 600 x 900”."""
    words = [at(tokens, near) for near in range(place + 1, found.start)]
    if words and place == 0 and set(words) <= _OF_SIZE:  # “2 Lge 915 x 1220”
        return True
    return any(word in PIECES or word in SHAPES or word in ROUND for word in words)


def _open(tokens: list[Token], place: int, found: Found) -> bool:
    """Say whether a bare figure straight beside the size may be the count: “5 600 x 900”, “600 x 900 - 5”."""
    if tokens[place].whole > MOST_PANES:
        return False
    if place < found.start:
        return all(at(tokens, near) in (":", "-", "=", "(", ")", ".", "#", "/") for near in
                   range(place + 1, found.start))
    between = [at(tokens, near) for near in range(found.end, place)]
    last = place + 1 == len(tokens) or at(tokens, place + 1) in (",", ".", ";", ")") or (
        tokens[place + 1].kind == "aside" and tokens[place + 1].said == "price")
    return last and all(word in (":", "-", "=", "/", ",", "(", "#", "~") for word in between)


def lone_count(tokens: list[Token]) -> int:
    """Return the count of a passage that says nothing else: “Two please.”, “24 of them”, “Qty 3”; else 0."""
    if [at(tokens, place) for place in range(2)] == ["how", "many"] and at(tokens, 2) in (":", "=", "-"):
        tokens = tokens[3:]  # “How many: two”
    counts = list(counts_alone(tokens))
    if any(token.bare in _ASKING for token in tokens):
        return 0
    plain = all(token.kind == "number" or token.bare in FILLER | _EACH | _HOW_MANY | set(_PAIRS) | {"them", "half"}
                or token.kind == "sign" for token in tokens)
    return counts[0] if plain and len(counts) == 1 and 1 <= counts[0] <= MOST_PANES else 0


def counts_alone(tokens: list[Token]) -> Iterator[int]:
    """Give the counts that a passage without a size may say: “actually three”, “make that 4 off”."""
    for place, token in enumerate(tokens):
        if token.whole and not token.fraction and not (place + 1 < len(tokens) and tokens[place + 1].unit):
            yield token.whole * _DOZEN.get(at(tokens, place + 1), 1)
        elif at(tokens, place) in _PAIRS and not is_number(tokens, place - 1):
            yield 6 if "half" in (at(tokens, place - 1), at(tokens, place - 2)) else _PAIRS[at(tokens, place)]
