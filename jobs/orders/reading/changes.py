"""What later words change in the sizes before them: another count, another side, a size taken back. Pure.

What cannot be tied to one size is not guessed: every size it may mean is asked about.
"""

from __future__ import annotations

import re
from dataclasses import replace

from jobs.orders.reading.counts import MOST_PANES, counts_alone
from jobs.orders.reading.items import Item, words_of
from jobs.orders.reading.measures import MM, Measure, at, measure_at
from jobs.orders.reading.passages import Passage
from jobs.orders.reading.settling import Settled, Surroundings
from jobs.orders.reading.tokens import Token
from jobs.orders.reading.unheard import called_in
from jobs.orders.reading.vocabulary import CANCEL, CHANGE, FILLER, OVAL, PIECES, ROUND, SQUARE, THINGS

_LETTERS = {"email", "e-mail", "mail", "message", "messages", "letter", "enquiry", "inquiry", "quote", "note", "emails",
            "attachment", "drawing"}
_ADDS = {"also", "add", "adding", "forgot", "missed", "another", "plus", "further", "additionally", "extra", "too"}
_POINTS_BACK = {"first", "second", "third", "last", "one", "ones", "those", "them", "former", "latter", "rest",
                "others", "double", "twice", "again", "that", "it", "these", "above", "lot", "all", "everything"}
_OF_ONE = FILLER | CHANGE | {"", ",", ".", "!", ":", "-", "that", "it", "make", "actually"}
_SIGNS = {"", ",", ".", "!", ":", "-", "(", ")"}
_SMALL = {"small", "smaller", "smallest", "little", "short", "shorter"}
_LARGE = {"large", "larger", "largest", "big", "bigger", "biggest", "tall", "taller", "tallest"}
_ORDINALS = {"first": 0, "second": 1, "third": 2, "fourth": 3, "last": -1, "former": 0, "latter": -1}


#: behind a figure these speak of a side, never of how many: “50 wider”, “20 mm too tall”
_WIDER = {"wider", "narrower", "taller", "shorter", "longer", "bigger", "smaller", "deeper", "higher", "lower",
          "larger", "broader", "shallower", "thinner"}
_SIDES = {"width", "height", "length", "depth", "diameter", "widths", "heights", "lengths"}
_TOO_WIDE = _SIDES | {"wide", "narrow", "tall", "short", "long", "big", "small", "deep", "high", "low", "large",
                      "broad"}
_BEFORE_WIDER = {"or", "so", "bit", "-", "too", "less", "more", "to", "on", "in", "the", "its"}


def live(items: list[Item]) -> list[Item]:
    """Return the sizes that may still be ordered: of panes, openings, frames, none taken back."""
    return [item for item in items if not item.gone and item.sense.of not in ("hole", "thing")]


def changes(tokens: list[Token]) -> bool:
    """Say whether words without a size change an order."""
    words = words_of(tokens)
    made = "make" in words and bool(words & {"that", "it", "them"})
    made |= "to" in words and bool(words & {"reduce", "increase", "reduced", "increased"})
    turned = bool(words & {"not", "don't", "dont"}) and (any(token.kind == "number" for token in tokens) or
                                                         bool(words & {"one", "ones", "it", "them", "that", "those"}))
    turned = turned or _denied(words)
    only = bool(words & {"only", "double", "twice"}) and bool(words & _POINTS_BACK)
    return bool(words & (CHANGE | CANCEL)) or made or turned or only


def _denied(words: set[str]) -> bool:
    """Say whether something that was named is not needed: “we don't need the big one”."""
    said = bool(words & {"don't", "dont", "not", "longer", "won't", "without"}) and bool(
        words & {"need", "needed", "want", "wanted", "require", "required", "needing"})
    return said and bool(words & {"one", "ones", "it", "them", "that", "those", "these", "first", "second", "last",
                                  "item", "line", "mirror", "panel", "number", "big", "small",
                                  "bigger", "smaller", "larger", "round", "oval", "other"})


#: “only one of the two will be awarded”
_ONE_OF_THEM = re.compile(r"\b(?:only|just|either)\s(?:one|1)\s(?:of|or)\s(?:the|these|those|them)\b"
                          r"|\bone\s(?:of\s(?:the\s)?(?:two|three)|or\sthe\sother)\b|\bnot\sboth\b", re.IGNORECASE)


def apply_change(passage: Passage, items: list[Item], near: bool, around: Surroundings, row: int) -> str:
    """Let words without a size change the sizes before them; return why they are marked, "" where they are no change.

    near: the passage stands in the row of the last size or in the one under it. row: its own.
    """
    tokens = passage.tokens
    words = words_of(tokens)
    here = live(items)
    figures = any(token.kind == "number" and not (token.spelled and token.whole == 1) for token in tokens)
    if words & CANCEL and words & _LETTERS and not figures:
        return "It takes something back that stands in another letter."
    if not here:
        return "It changes something that is not in this letter." if figures or words & CANCEL else ""
    if _ONE_OF_THEM.search(passage.text) and len(here) > 1:
        return _in_doubt(passage, here)
    called = called_in(passage.text, here)
    if len(called) > 1 and len(called) < len(here):
        return _in_doubt(passage, called)
    if words & CANCEL or _denied(words):
        in_row = [item for item in here if item.row == row]
        if len(in_row) == 1 and words <= CANCEL | FILLER | _SIGNS:  # “600 x 900 – 2 off – omit”
            return _cancel(passage, in_row, near)
        return _cancel(passage, called if len(called) == 1 else here, near)
    if len(called) == 1:
        here = called
    named = referred(passage.text, here)
    here = here if named is None else [named]
    if _other_side(tokens, here, around, passage.text):
        return ""
    return _other_count(passage, here, near, figures, around) if figures or words & _POINTS_BACK else ""


def speaks_of_a_side(tokens: list[Token]) -> bool:
    """Say whether words name a side, so that their figures are no counts."""
    return bool(words_of(tokens) & _SIDES)


def differs_by(tokens: list[Token]) -> bool:
    """Say whether words make a side longer or shorter by a figure: “50 wider”, “20 mm too tall”, “narrower by 5”."""
    for place, token in enumerate(tokens):
        if token.kind != "number":
            continue
        near = place + 1
        while near < len(tokens) and (tokens[near].unit or at(tokens, near) in _BEFORE_WIDER):
            near += 1
        between = {at(tokens, one) for one in range(place + 1, near)}
        said = between & {"too", "less", "more", "to", "on"} or at(tokens, place - 1) == "+"
        wider = _WIDER | _TOO_WIDE if said else _WIDER
        of_things = at(tokens, near + 1) in PIECES  # “two bigger ones”
        by = at(tokens, place - 1) == "by" and any(at(tokens, one) in _WIDER for one in range(max(0, place - 5), place))
        if by or (at(tokens, near) in wider and not of_things):
            return True
    return False


def ask_of_a_side(passage: Passage, items: list[Item]) -> str:
    """Ask of the size whose side “50 wider” changes, of all where it may be several; return why it is marked."""
    here = live(items)
    _in_doubt(passage, spoken_of(passage, here) or here)
    return "It makes a side another: type the size yourself."


def spoken_of(passage: Passage, here: list[Item]) -> list[Item]:
    """Return the sizes that words name by their own words, number, place, shape or size; [] where they name none."""
    tokens = passage.tokens
    words = words_of([token for place, token in enumerate(tokens) if not (
        token.bare == "round" and (at(tokens, place - 1) in ("all", "way") or at(tokens, place + 1) == "the"))])
    one = referred(passage.text, here)
    placed = [here[place] for word, place in _ORDINALS.items() if word in words and (place < 0 or place < len(here))]
    named = [item for item in here if item is one or any(item is other for other in placed) or
             (words & ROUND and item.shape.name == "circle") or (words & OVAL and item.shape.name == "ellipse") or
             (words & SQUARE and item.shape.name == "rectangle")]
    named += [item for item in called_in(passage.text, here) if not any(item is other for other in named)]
    if named or words & {"all", "both", "everything", "each", "every"}:
        return named
    said = by_size({*(words - _WIDER), *_larger_one(tokens)}, here)
    return [said] if said is not None else []


def _larger_one(tokens: list[Token]) -> set[str]:
    """Return the words by which “the larger one”, “the smaller mirror” name a size, and do not change one."""
    return {at(tokens, place) for place in range(len(tokens)) if at(tokens, place) in _SMALL | _LARGE and (
        at(tokens, place + 1) in PIECES or at(tokens, place - 1) == "the")}


def count_beside(item: Item, passage: Passage) -> int:
    """Return how many of a size above a passage asks for that names it again: “make the 400 x 400 two”; else 0."""
    if item.counted:
        return item.quantities[0] if len(item.quantities) == 1 else 0
    found = passage.found
    outside = passage.tokens if found is None else passage.tokens[:found.start] + passage.tokens[found.end:]
    counts = {count for count in counts_alone([token for token in outside if not (token.spelled and token.whole == 1)])
              if 1 <= count <= MOST_PANES}
    return counts.pop() if len(counts) == 1 else 0


#: “M03 DELETED” in a list
_ROW_OUT = re.compile(r"\W*([a-z]{1,3}[-/.]?\d{1,3})\W+(?:is\s|now\s)?(?:deleted|omitted|omit|void|cancelled|canceled"
                      r"|removed|not\s(?:used|needed|required))\W*", re.IGNORECASE)


def _cancel(passage: Passage, here: list[Item], near: bool) -> str:
    row_out = _ROW_OUT.fullmatch(passage.text)
    if row_out and not any(re.search(rf"\b{re.escape(row_out[1])}\b", item.written, re.IGNORECASE) for item in here):
        return "It takes something back that is not in this letter."
    target = referred(passage.text, here) or meant(words_of(passage.tokens), here, near)
    if target is not None and not passage.text.endswith(")"):
        target.gone = f"Taken back by “{passage.text}”."
        return ""
    return _in_doubt(passage, here)


_REFERENCE = re.compile(
    r"\b(?:item|line|number|no|nr|mirror|panel|pane|pos|ref|mark|door|window)s?\b\.?\s*#?\s*([a-z]?\d{1,3}|[b-z])\b"
    r"|\b([a-z]\d{1,3})\b|\b([b-hj-z])\s(?:is|should|was|needs|must|will|to be)\b", re.IGNORECASE)


def referred(text: str, here: list[Item]) -> Item | None:
    """Return the one size that words name by its number or letter: “item 3”, “M3”; None without one."""
    names = {(found[1] or found[2] or found[3]).lower() for found in _REFERENCE.finditer(text)}
    if len(names) != 1:
        return None
    label = re.escape(names.pop())
    opens = re.compile(
        rf"\W*(?:[a-z]+\.?\s)?#?{label}(?:[.):]|\s?[-–]\s|\s(?=[a-z]*\s?\d)(?!x|by|mm|cm|off|no))", re.IGNORECASE)
    found = [item for item in here if opens.match(item.written)]
    return found[0] if len(found) == 1 else None


def meant(words: set[str], here: list[Item], near: bool) -> Item | None:
    """Return the one size that words point to, None where it could be several."""
    if words & {"all", "everything", "lot", "these", "those", "them", "others", "rest"}:
        return None
    if len(here) == 1:
        return here[0]
    for word, place in _ORDINALS.items():
        if word in words and (place < 0 or len(here) > place):
            return here[place]
    named = [item for item in here if (words & ROUND and item.shape.name == "circle") or
             (words & OVAL and item.shape.name == "ellipse")]
    if len(named) == 1:
        return named[0]
    return here[-1] if near and words & {"that", "it"} and not words & {"one", "ones"} else None


def _in_doubt(passage: Passage, here: list[Item], count: int = 0) -> str:
    """Ask of the sizes that words may change; count: what the words say of how many, 0 where they do not."""
    for item in here:
        if count and count not in item.quantities:
            item.quantities = [*item.quantities, count]
        offer_multiples(item, passage)
        item.doubts.append(f"Later it says “{_short(passage.text)}”: does that change this one?")
    return "It changes something above: which is not sure."


def _more_or_fewer(tokens: list[Token]) -> int:
    """Return what “add 3, take off 2” makes of a count: 1 more; 0 where it says nothing of the kind."""
    more = 0
    for place, token in enumerate(() if speaks_of_a_side(tokens) or differs_by(tokens) else tokens):
        if not token.whole or token.fraction or (place + 1 < len(tokens) and tokens[place + 1].unit):
            continue
        before = {at(tokens, near) for near in range(max(0, place - 2), place)}
        if before & {"add", "plus", "+"} or at(tokens, place + 1) in ("more", "extra"):
            more += token.whole
        elif before & {"off", "minus", "less", "lose", "drop", "remove"} or at(tokens, place + 1) in ("fewer", "less"):
            more -= token.whole
    return more


def offer_multiples(item: Item, passage: Passage) -> None:
    """Offer half of a count, or twice, where words say “halve that”, “double it”."""
    words = words_of(passage.tokens)
    known = item.quantities[0]
    if (more := _more_or_fewer(passage.tokens)) and 1 <= known + more <= MOST_PANES:
        item.quantities = list(dict.fromkeys([*item.quantities, known + more]))
    if words & {"halve", "half", "halved"} and not known % 2:
        item.quantities = list(dict.fromkeys([*item.quantities, known // 2]))
    if words & {"double", "twice", "doubled"} and 2 * known <= MOST_PANES:
        item.quantities = list(dict.fromkeys([*item.quantities, 2 * known]))


def _short(text: str) -> str:
    return text if len(text) <= 80 else f"{text[:77]}…"


def _by_side(tokens: list[Token], here: list[Item], around: Surroundings) -> tuple[Item | None, int]:
    """Return the one size that “the 300 ones” means, and that figure; None and 0 without one."""
    found = [
        (item, token.whole) for token in tokens if token.whole >= 10 and not token.spelled
        for item in here if item.options and token.whole * MM[_unit(item, around)] in item.sides_mm
    ]
    alone = len({id(item) for item, _ in found}) == 1 and len({side for _, side in found}) == 1
    return found[0] if alone else (None, 0)


def _other_count(
    passage: Passage, here: list[Item], near: bool, figures: bool, around: Surroundings
) -> str:
    """Read “actually three”, “make that 4”: another count of the last size."""
    if figures and speaks_of_a_side(passage.tokens):  # “the height of the second should be 450”
        return _in_doubt(passage, spoken_of(passage, here) or here)
    counts = list(counts_alone(_first_part(passage.tokens)))
    lengths = [measure for place in range(len(passage.tokens))
               if (measure := measure_at(passage.tokens, place)) is not None and (measure.unit or measure.label)]
    words = words_of([token for token in passage.tokens if not token.spelled])
    named, side = _by_side(passage.tokens, here, around)
    counts = [count for count in counts if count != side]
    target = named or by_size(words, here) or meant(words | {"that"}, here, near)
    if target is not None and len(set(counts)) > 1 and "one" in {token.text for token in passage.tokens}:
        counts = [count for count in counts if count != 1]  # “the second one”
    counts = _without_denied(passage.tokens, counts)
    of_things = any(token.kind == "number" and {at(passage.tokens, place + 1), at(passage.tokens, place + 2)} &
                    (THINGS - PIECES) for place, token in enumerate(passage.tokens))
    sure = not of_things and not words & {"if", "unless", "maybe", "perhaps", "might", "could", "possibly", "whether"}
    if len(set(counts)) == 1 and not lengths and target is not None and 1 <= counts[0] <= 500 and sure:
        target.quantities, target.counted = [counts[0]], True
        target.doubts = [doubt for doubt in target.doubts if "how many" not in doubt]
        target.says(f"As “{_short(passage.text)}” says.")
        return ""
    if not figures and not words & (_POINTS_BACK - {"it", "that", "one", "all", "these", "them", "last"}):
        return ""
    count = counts[0] if len(set(counts)) == 1 and not lengths and 1 <= counts[0] <= 500 else 0
    # “make that 5” some rows below speaks of one size, most likely the last
    if count and words <= _OF_ONE:
        return _in_doubt(passage, here[-1:], count)
    unlike = [item for item in here if item.quantities != [count]]
    return _in_doubt(passage, unlike or here, count)


def by_size(words: set[str], here: list[Item]) -> Item | None:
    """Return the one size that “the small one”, “the largest” means; None where several may be."""
    small, large = bool(words & _SMALL), bool(words & _LARGE)
    if small == large or len(here) < 2 or not all(item.sides_mm for item in here):
        return None
    if len(here) > 2 and not words & {"smallest", "biggest", "largest", "tallest"}:
        return None
    by_area = sorted(here, key=lambda item: item.sides_mm[0] * item.sides_mm[-1])
    ends = by_area if small else by_area[::-1]
    return None if ends[0].sides_mm == ends[1].sides_mm else ends[0]


def _first_part(tokens: list[Token]) -> list[Token]:
    """Return what “actually make it 4, we are doing both” says before it gives its reason."""
    comma = next((place for place, token in enumerate(tokens) if token.text == ","), len(tokens))
    first = tokens[:comma]
    return first if any(counts_alone(first)) and "make" in words_of(first) else tokens


def _without_denied(tokens: list[Token], counts: list[int]) -> list[int]:
    """Return the counts without the one that is turned away: “5 not 3”, “not 3 but 5”."""
    denied = {token.whole for place, token in enumerate(tokens) if token.whole and at(tokens, place - 1) in (
        "not", "of", "from") and (at(tokens, place - 1) != "of" or at(tokens, place - 2) == "instead")}
    return [count for count in counts if count not in denied]


def _other_side(tokens: list[Token], here: list[Item], around: Surroundings, text: str) -> bool:
    """Read “not 600 but 650” and “650, not 600”: one side of one size is another."""
    wrong, right = None, None
    place = 0
    while place < len(tokens):
        measure = measure_at(tokens, place)
        if measure is None:
            place += 1
            continue
        before = [at(tokens, near) for near in range(max(0, measure.start - 2), measure.start)]
        turned = "not" in before or before[-2:] == ["instead", "of"] or before[-1:] == ["from"]
        if turned and wrong is None:
            wrong = measure
        elif right is None:
            right = measure
        else:
            return False
        place = measure.end
    if wrong is None or right is None:
        return False
    return _with_side(here, wrong, right, around, text)


def _with_side(here: list[Item], wrong: Measure, right: Measure, around: Surroundings, text: str) -> bool:
    found = [
        (item, side) for item in here if len(item.options) == 1
        for side, millimetres in enumerate(item.sides_mm) if millimetres == wrong.in_mm(_unit(item, around))
    ]
    if len(found) != 1:
        return False
    item, side = found[0]
    unit = _unit(item, around)
    texts = _texts(item)
    if len(texts) != len(item.sides_mm):
        return False
    texts[side] = right.text(wrong.unit or unit)
    sides = list(item.sides_mm)
    sides[side] = right.in_mm(wrong.unit or unit)
    item.options = [Settled(" x ".join(texts), tuple(sides))]
    item.worked_out = f"As “{_short(text)}” says."
    return True


def _unit(item: Item, around: Surroundings) -> str:
    """Return the unit that an item's size is written in."""
    last = item.options[0].text.rsplit(" ", 1)[-1]
    return last if last in MM else around.said_unit or around.default_unit


def _texts(item: Item) -> list[str]:
    """Return the sides' texts, each with its unit."""
    texts = item.options[0].text.split(" x ")
    unit = texts[-1].rsplit(" ", 1)[-1]
    return [text if text.rsplit(" ", 1)[-1] in MM or "'" in text else f"{text} {unit}" for text in texts]


def take_back(item: Item, items: list[Item]) -> None:
    """Take a size back that a letter turns away: “not 600 x 900”, “instead of …”, “scrap the 600 x 900”."""
    same = [other for other in live(items) if other is not item and _alike(other, item)]
    if len(same) == 1:
        same[0].gone = f"Taken back by “{_short(item.written)}”."
    for other in same if len(same) > 1 else ():
        other.doubts.append(f"Later it says “{_short(item.written)}”: does that change this one?")
    item.gone = "It is turned away here, and not ordered."


def _alike(one: Item, other: Item) -> bool:
    return bool({option.sides_mm for option in one.options} & {option.sides_mm for option in other.options})


def replace_by(item: Item, items: list[Item], near: bool, words: set[str]) -> None:
    """Read “sorry, I meant 650 x 900”: a size in place of one before it."""
    here = [other for other in live(items) if other is not item]
    if not here or words & _ADDS:
        return
    target = here[0] if len(here) == 1 else None
    if target is None and (target := referred(item.written, here) or _by_order(words, here)) is not None:
        near = True
    if target is None:
        sharing = [other for other in here if set(other.sides_mm) & set(item.sides_mm)]
        target = sharing[0] if len(sharing) == 1 and near and sharing[0] is here[-1] else None
    if target is None or not near:
        for other in [*here, item]:
            other.doubts.append(f"It says “{_short(item.written)}”: which size does that change?")
        return
    target.gone = f"Replaced: “{_short(item.written)}”."
    inherit(item, target)


def _by_order(words: set[str], here: list[Item]) -> Item | None:
    """Return the size that “the second one should be …” means."""
    said = [place for word, place in _ORDINALS.items() if word in words]
    if len(said) != 1 or not words & {"one", "size", "mirror", "pane", "panel", "piece", "item", "should"}:
        return None
    return here[said[0]] if len(here) > said[0] else None


def inherit(item: Item, target: Item) -> None:
    """Give a size the count of the one that it replaces, and its shape, where it says neither."""
    if not item.counted and target.counted:
        item.quantities, item.counted = list(target.quantities), len(target.quantities) == 1
        if not item.counted:
            item.doubts.append(f"It stands for “{_short(target.written)}”: how many?")
    if item.shape.name == "rectangle" and target.shape.name != "rectangle":
        item.shape = replace(target.shape, used=frozenset())


