"""Counts that are said of several sizes at once: “2 each of …”, “ten in all: six …, the rest …”. Pure."""

from __future__ import annotations

import re
from itertools import pairwise, takewhile

from jobs.orders.reading.counts import MOST_PANES
from jobs.orders.reading.items import TWO_WAYS, Item, words_of
from jobs.orders.reading.measures import at
from jobs.orders.reading.passages import Passage
from jobs.orders.reading.tokens import Token
from jobs.orders.reading.vocabulary import FILLER, OF_SIZES, OPENINGS, PIECES

_BETWEEN = {"", "told", ".", ",", "!", ";", "(", ")", "-"}
_IN_ALL = {"total", "altogether", "overall"}


#: “of your three proposals (…) we take the second”
_CHOSEN = re.compile(
    r"\b(?:take|have|want|choose|chose|chosen|pick|picked|prefer|order|like|go(?:ing)?\s(?:for|with)|need)\s(?:only\s|just\s)?"
    r"the\s(?:first|second|third|fourth|last|former|latter|middle|larger|smaller|bigger|cheaper|taller|shorter)\b"
    r"(?!\s(?:at|of|to\sbe|in|measuring)\b)", re.IGNORECASE)


def pieces_in(tokens: list[Token]) -> int:
    """Return how many pieces words without a size count: “three mirrors”; 0 where they count none."""
    return counted_in(tokens, PIECES)


_WISHES = {"need", "want", "like", "order", "require", "have", "take", "after", "get", "make", "needed", "supply"}
_TO_BE = {"", "for", "to", "in", "on", "please", ".", "?", "!", ",", "above", "beside", "either", "between", "over"}


def wished_for(tokens: list[Token]) -> int:
    """Return how many a wish without a noun asks for: “a pair to go there”, “we need three for the bar”."""
    for place, token in enumerate(tokens):
        pair = at(tokens, place) in ("pair", "couple") and at(tokens, place - 1) == "a"
        number = 2 if pair else token.whole if token.kind == "number" else 0
        ahead = {at(tokens, near) for near in range(max(0, place - 4), place)}
        if 1 < number <= MOST_PANES and ahead & _WISHES and at(tokens, place + 1) in _TO_BE:
            return number
    return 0


def counted_in(tokens: list[Token], nouns: frozenset[str]) -> int:
    """Return how many of what these words name are counted: “two closet doors”; 0 where none are."""
    for place, token in enumerate(tokens):
        near = range(place + 1, min(place + 5, len(tokens)))
        length = place + 1 < len(tokens) and tokens[place + 1].unit  # “70 mm all round, and the mirror …”
        if token.kind == "number" and not length and 1 < token.whole <= MOST_PANES and any(
                at(tokens, one) in nouns for one in near):
            return token.whole
    return 0


def _total(item: Item, passage: Passage, sizes: int) -> None:
    """Ask whether “two mirrors, a and b” counts both; with a colon behind the count it does."""
    found, tokens = passage.found, passage.tokens
    if found is None or item.quantities != [sizes] or found.count:
        return
    ahead = [at(tokens, place) for place in range(found.start)]
    if (not set(ahead) & PIECES and ":" not in ahead) or set(ahead) & {"each", "ea"}:
        return
    item.quantities = [1] if ":" in ahead else [1, sizes]
    item.counted = ":" not in ahead
    if item.counted:
        item.doubts.append(f"Is {sizes} how many of this one, or of all?")


def _of_all(fresh: list[tuple[Item, Passage]]) -> None:
    """Read the count of “three plates: centre a, sides b (2)” as that of all: what the others leave is the first's."""
    item, passage = fresh[0]
    found, tokens = passage.found, passage.tokens
    elsewhere = sum(other.quantities[0] for other, _ in fresh[1:] if other.sense.of not in ("frame", "thing"))
    if len(item.quantities) == 2 and item.doubts == [TWO_WAYS] and item.quantities[0] - item.quantities[1] == elsewhere:
        item.quantities, item.doubts = item.quantities[1:], []  # “six mirrors, three … and three …”
        return
    if found is None or found.count or len(item.quantities) != 1 or item.quantities[0] < 2:
        return
    place = next((near for near in range(found.start) if tokens[near].whole == item.quantities[0]), found.start)
    named = [near for near in range(place + 1, found.start) if at(tokens, near) in (":", ",", "-", "(")
             and _names_pieces(tokens, place + 1, near)]
    behind = range(named[-1] + 1, found.start) if named else range(0)
    words = [at(tokens, near) for near in behind if tokens[near].kind == "word"]
    if not set(words) - FILLER:
        return
    total = item.quantities[0]
    others = sum(other.quantities[0] for other, _ in fresh[1:] if other.sense.of not in ("frame", "thing"))
    left = total - others
    if left == 1 and not {"and", "&"} & {at(tokens, near) for near in behind}:
        item.quantities = [1]
        return
    item.quantities = list(dict.fromkeys([*([left] if left > 0 else []), total, 1]))
    item.doubts.append(f"Is {total} how many of this one, or of all?")


def _in_total(item: Item, passage: Passage) -> None:
    """Ask of “2 more of the 300 x 900s, so 6 in total” how many: both counts are offered."""
    total = total_in(passage.tokens)
    if item.counted and total > max(item.quantities):
        item.quantities.append(total)
        item.doubts.append(f"It says {total} in all: how many?")


def _names_pieces(tokens: list[Token], start: int, end: int) -> bool:
    """Say whether words name pieces and say nothing else behind them: “three plates are as follows”."""
    places = [near for near in range(start, end) if at(tokens, near) in PIECES | OPENINGS]
    return bool(places) and all(at(tokens, near) in FILLER for near in range(places[-1] + 1, end))


def _rest(fresh: list[tuple[Item, Passage]]) -> None:
    """Offer what “ten mirrors in all: six 250 x 800, the rest 250 x 1000” leaves for the rest."""
    rests = [item for item, passage in fresh if words_of(passage.tokens) & {"rest", "remainder", "remaining"}]
    total = pieces_in(fresh[0][1].tokens) if fresh else 0
    known = sum(item.quantities[0] for item, _ in fresh if item not in rests)
    if len(rests) == 1 and not rests[0].counted and total > known:
        rests[0].quantities = [total - known]


def total_in(tokens: list[Token]) -> int:
    """Return how many words say that all come to: “five in total”, “total 5 pieces”, “4 all told”; 0 without."""
    for place, token in enumerate(tokens):
        if token.kind != "number" or not 1 < token.whole <= MOST_PANES:
            continue
        behind = [at(tokens, near) for near in range(place + 1, min(place + 6, len(tokens)))]
        behind = list(takewhile(lambda word: word in PIECES | FILLER | _IN_ALL | _BETWEEN, behind))
        ahead = [at(tokens, near) for near in range(max(0, place - 4), place)]
        of_something = not behind and place + 1 < len(tokens)  # “total delivery 5 days”
        if set(behind) & _IN_ALL or {("in", "all"), ("all", "told")} & set(pairwise(behind)) or (
                {"total", "altogether"} & set(ahead) and not of_something):
            return token.whole
    return 0


def openings_alike(fresh: list[tuple[Item, Passage]]) -> None:
    """Read “the openings are a, b and c” and “sizes are frame sizes: a, b” of all its sizes."""
    if not fresh or fresh[0][0].sense.of not in ("opening", "frame"):
        return
    found = fresh[0][1].found
    ahead = {at(fresh[0][1].tokens, place) for place in range(found.start if found is not None else 0)}
    if not fresh[0][0].sense.noun.endswith("s") and not ahead & OF_SIZES:
        return
    for item, _ in fresh[1:]:
        if not item.sense.of:
            item.sense.of, item.sense.noun = fresh[0][0].sense.of, fresh[0][0].sense.noun
            item.deduction = item.deduction or fresh[0][0].deduction


def _taken_off_all(fresh: list[tuple[Item, Passage]]) -> None:
    """Ask of every size of a row what “a and b, both less 3 mm” takes off, said behind the last."""
    item, passage = fresh[-1]
    found, tokens = passage.found, passage.tokens
    if found is None or item.deduction is None or any(other.deduction is not None for other, _ in fresh[:-1]):
        return
    behind = {at(tokens, place) for place in range(found.end, len(tokens))}
    if not behind & {"both", "all", "each", "them", "these", "those", "everything"}:
        return
    if "both" in behind and item.quantities == [2] and not found.count:
        item.quantities, item.counted = [1], False
    for other, _ in fresh:
        other.deduction = item.deduction
        if not item.sense.of or not other.sense.of:
            other.doubts.append(f"It says “{passage.text}”: of this one?")


def _spare_of_all(fresh: list[tuple[Item, Passage]]) -> None:
    """Ask of every size of a row whether the spare said behind the last is of it: “a x 3 and b x 2, with one spare”."""
    item, passage = fresh[-1]
    if not item.spare or any(other.spare for other, _ in fresh[:-1]):
        return
    for other, _ in fresh:
        counts = [other.quantities[0], other.quantities[0] + (-1 if other is item else 1) * item.spare]
        other.quantities = [count for count in counts if count >= 1]
        other.doubts.append(f"It says “{passage.text}”: is a spare of this one meant?")


def _of_all_sizes(tokens: list[Token], place: int) -> bool:
    """Say whether a “both” or “all” speaks of sizes: not “in all”, which counts, nor “all round”."""
    return at(tokens, place) in ("both", "all") and not (
        at(tokens, place - 1) in ("in", "at") or at(tokens, place + 1) in ("told", "round", "around", "in"))


def _both(fresh: list[tuple[Item, Passage]]) -> None:
    """Read the “both” behind two sizes of them: “a and b, both antiqued”; with a count, that of each of them."""
    if len(fresh) < 2:
        return
    item, passage = fresh[-1]
    found, tokens = passage.found, passage.tokens
    start = 0 if found is None else next(
        (place for place in range(found.end, len(tokens)) if _of_all_sizes(tokens, place)), 0)
    if found is None or not start:
        return
    plain = item.deduction is None and not any(token.kind == "number" for token in tokens[start:])
    if plain and start + 1 < len(tokens):
        for other, _ in fresh[:-1]:
            other.tails.append(passage.text[tokens[start].start - tokens[0].start:].strip(" .!"))
    counts = {token.whole for token in tokens[found.end:] if token.kind == "number" and token.whole} | (
        {found.count} if found.count else set())
    if not item.counted or any(other.counted for other, _ in fresh[:-1]):
        return
    if "both" in words_of(tokens) and not counts:
        item.quantities, item.counted = [1], False
    elif len(counts) == 1 and item.quantities == list(counts):
        for other, _ in fresh[:-1]:
            _count_as(other, item, passage)


def give_to_each(fresh: list[tuple[Item, Passage]]) -> None:
    """Give “2 each of …” at the beginning of a row, or “… 2 each” at its end, to all its sizes without a count."""
    if len(fresh) == 1:
        _in_total(*fresh[0])
    elif chosen := next((passage.text for _, passage in fresh if _CHOSEN.search(passage.text)), ""):
        for item, _ in fresh:
            item.doubts.append(f"It says “{chosen[:80]}”: is it ordered?")
    _rest(fresh)
    if len(fresh) > 1:
        _of_all(fresh)
        _taken_off_all(fresh)
        _spare_of_all(fresh)
    _both(fresh)
    counted = [(item, passage) for item, passage in fresh if item.counted]
    if len(fresh) > 1 and len(counted) == 1 and counted[0][0] is fresh[0][0]:
        _total(*counted[0], len(fresh))
    if len(fresh) < 2 or len(counted) != 1:
        return
    item, passage = counted[0]
    tokens = passage.tokens
    said = any(token.whole in item.quantities and {at(tokens, place + 1), at(tokens, place + 2)} & {"each", "ea"}
               for place, token in enumerate(tokens))
    if said and (item is fresh[0][0] or item is fresh[-1][0]):
        for other, _ in fresh:
            if other is not item:
                _count_as(other, item, passage)


def _count_as(other: Item, item: Item, passage: Passage) -> None:
    """Give a size the count of another of its row; where that one is asked about, so is this one."""
    if not item.doubts:
        other.quantities, other.counted = list(item.quantities), True
    else:
        other.quantities = list(dict.fromkeys([*other.quantities, *item.quantities]))
        other.doubts.append(f"It says “{passage.text}”: how many of this one?")
