"""Words that say that there are several of a size, and leave open how many or of what the size is. Pure.

“a few”, “each”, “a triptych”: the count is not said. “in two pieces”, “four-panel screen … overall”, “both sides”:
the figure may divide the one size. Each is a question; a word more is a word here and a letter in the tests.
"""

from __future__ import annotations

import re

from jobs.orders.reading.counts import MOST_PANES, Count
from jobs.orders.reading.measures import at, is_number
from jobs.orders.reading.sizes import Found
from jobs.orders.reading.tokens import Token
from jobs.orders.reading.vocabulary import PARTS, ROOMS, THINGS, UNCOUNTED, WHOLE, WHOLE_THINGS
from studio.kit.typed_numbers import whole_number

#: things made of so many alike
_MADE_OF = {"diptych": 2, "triptych": 3, "polyptych": 4}
_DOORS = {"door", "doors", "leaf", "leaves", "hinged", "casement", "window", "windows"}
_DOUBLE = {"double": 2, "twin": 2, "french": 2, "triple": 3, "bi-fold": 2, "bifold": 2}
_HOW_MANY = {"qty", "quantity", "quantities", "qnty", "quant"}
_ALIKE = {"equal", "identical", "separate", "matching", "even", "similar", "vertical", "horizontal"}
_COPIED = {("copy", "of"), ("duplicate", "of"), ("replica", "of"), ("twin", "of"), ("twin", "for"), ("copy", "to")}
_SIDES = {"side", "sides", "end", "ends"}
_FINISH = re.compile(r"(?:polish|bevel|arris|silver|antiqu|paint|film|edg|drill|finish|protect|coat|etch|sand|grind"
                     r"|ground|round|chamfer|frost|seal)\w*")
_GRID = re.compile(r"(\d+)\s?(?:\w+\s){0,2}(?:x|by|\*|and)\s?(\d+)")


def several(tokens: list[Token], found: Found, count: Count) -> tuple[list[int], str]:
    """Return the counts that words about several may mean, the likeliest first, and what to ask; none and "" if none.

    count: what the passage says of how many in figures.
    """
    said = sorted({number for number in count.said if number > 1})
    grid = next((_GRID.match(token.text) for token in tokens if token.said == "arrangement"), None)
    if grid is not None and (cells := whole_number(grid[1]) * whole_number(grid[2])) not in said and cells > 1:
        return [cells, *(said or [1])], f"They stand {grid[1]} by {grid[2]}: how many?"
    if said and (_divided(tokens, found, said) or _overall(tokens, found)):
        return [1, *said], "Is the size that of one, or of all together? And how many?"
    if not said and any(at(tokens, place + 1) in ("and", "&", "+", "/") and {at(tokens, place), at(tokens, place + 2)}
                        == {"left", "right"} for place in range(len(tokens))) and found.sides:
        return [2, 1], "It says left and right: how many?"
    if hands := _hands(tokens):
        each = said[0] if said else 1
        return [each * 2, each], f"It says “{hands}”: how many?"
    if any((at(tokens, place), at(tokens, place + 1)) in _COPIED
           and at(tokens, place + 2) in ("it", "this", "that", "them") for place in range(len(tokens))):
        each = said[0] if said else 1
        return [each + 1, each, each * 2], "It says a copy of it: how many?"
    if any(_both_sides(tokens, place) for place in range(len(tokens))) and not said:
        return [2, 1], "It says two sides: how many?"
    if count.said:
        return [], ""
    if rooms := _rooms(tokens):
        return [rooms, 1], "It names several rooms: how many?"
    return _uncounted(tokens, found)


def _rooms(tokens: list[Token]) -> int:
    """Return how many rooms are named together, “hall and landing”; 0 where no two are."""
    rooms = 0
    for place in range(len(tokens)):
        following = place + 1
        while at(tokens, following) in (",", "and", "&", "+", "the"):
            following += 1
        joined = at(tokens, place) in ROOMS and at(tokens, following) in ROOMS and following > place + 1
        between = {at(tokens, near) for near in range(max(0, place - 2), place)} & {"between", "from"}
        rooms += joined and not between
    return rooms + 1 if rooms else 0


def _uncounted(tokens: list[Token], found: Found) -> tuple[list[int], str]:
    for place in range(len(tokens)):
        word, behind = at(tokens, place), at(tokens, place + 1)
        if found.start <= place < found.end:
            continue
        if word in _MADE_OF:
            return [_MADE_OF[word], 1], f"It says “{word}”: how many?"
        if word in _DOUBLE and behind in _DOORS:
            return [_DOUBLE[word], 1], f"It says “{word} {behind}”: how many?"
        if word in UNCOUNTED and (behind == "of" or word in ("few", "several", "various", "multiple", "numerous")):
            return [2, 3, 4, 1], f"It says “{word}”: how many?"
        if word in _HOW_MANY:
            return [1, 2, 3, 4], f"It says “{word}” and no figure: how many?"
        if (word in ("each", "apiece") and behind not in _SIDES | {"way", "edge", "corner", "end"}
                and at(tokens, place - 1) not in ("from", "off", "of", "at", "in", "on", "to")):
            counts = [*_of_things(tokens, found), 1, 2, 3, 4]
            return list(dict.fromkeys(counts))[:4], f"It says “{word}” and not how many: how many?"
    return [], ""


_PLURALS = frozenset("""tiles panels panes mirrors sheets plates strips shelves splashbacks tabletops discs squares
    rounds ovals inserts pieces lites""".split())  # noqa: SIM905 - words as words


def plural_in(tokens: list[Token], found: Found) -> str:
    """Return what is named in the plural close to a size; "" without such a word."""
    near = (*range(max(0, found.start - 4), found.start), *range(found.end, min(found.end + 4, len(tokens))))
    return next((at(tokens, place) for place in near if at(tokens, place) in _PLURALS), "")


def _of_things(tokens: list[Token], found: Found) -> list[int]:
    """Return how many of something else are counted ahead of a size: “for 30 bedrooms, each …”."""
    counted = []
    for place, token in enumerate(tokens[:found.start]):
        figure = re.match(r"\d+", token.text) if token.said == "number of something" else None
        number = whole_number(figure[0]) if figure else token.whole if at(tokens, place + 1) in THINGS else 0
        counted += [number] if 1 < number <= MOST_PANES else []
    return counted


def _divided(tokens: list[Token], found: Found, said: list[int]) -> bool:
    """Say whether a count counts the parts of one thing: “in two pieces”, “four-panel screen”."""
    for place, token in enumerate(tokens):
        if token.whole not in said or found.start <= place < found.end:
            continue
        behind = place + 1
        while at(tokens, behind) in _ALIKE | {"-"}:
            behind += 1
        if at(tokens, behind) not in PARTS:
            continue
        if place > found.start and at(tokens, place - 1) in ("in", "into", "as"):
            return True
        if place < found.start and at(tokens, place - 1) in ("in", "into") and behind + 1 < found.start:
            return True
        follows = at(tokens, behind + 1)
        singular = not at(tokens, behind).endswith("s") and at(tokens, behind) not in ("halves", "leaves")
        if singular and follows in WHOLE_THINGS:
            return True
    return False




def _overall(tokens: list[Token], found: Found) -> bool:
    """Say whether the size is said to be that of the whole: “1800 x 1800 overall”, “overall size 1800 x 1800”."""
    near = (*range(max(0, found.start - 3), found.start), *range(found.end, min(found.end + 2, len(tokens))))
    return any(at(tokens, place) in WHOLE and (place >= found.start or at(tokens, place - 1) != "in")
               and not (is_number(tokens, place + 1) and place + 1 != found.start) for place in near)


def _hands(tokens: list[Token]) -> str:
    """Return the words that say that a left one and a right one are wanted: “1 off each hand”, “P&S”."""
    for place in range(len(tokens)):
        word, behind, third = (at(tokens, near) for near in range(place, place + 3))
        if word in ("each", "per", "either", "both") and behind in ("hand", "hands"):
            return f"{word} {behind}"
        sides = (word, third) in (("port", "starboard"), ("p", "s"), ("lh", "rh"), ("l", "r"))
        if sides and behind in ("and", "&", "+"):
            return f"{word} {behind} {third}"
    return ""


def _both_sides(tokens: list[Token], place: int) -> bool:
    """Say whether a word says that something is on two sides, and not how its sides are finished."""
    if at(tokens, place) not in ("both", "either") or at(tokens, place + 1) not in _SIDES:
        return False
    near = [at(tokens, one) for one in (place - 2, place - 1, place + 2, place + 3)]
    return not any(_FINISH.fullmatch(word) for word in near)
