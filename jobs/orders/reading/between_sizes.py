"""Words of a letter without a size: what they say of the sizes above or below them, or nothing. Pure."""

from __future__ import annotations

import re

from jobs.orders.reading.changes import (
    apply_change,
    ask_of_a_side,
    changes,
    differs_by,
    live,
    meant,
    offer_multiples,
    speaks_of_a_side,
    spoken_of,
)
from jobs.orders.reading.counts import MOST_PANES, counts_alone, lone_count, tentative
from jobs.orders.reading.course import LONGEST_WRITTEN, Course, Heading
from jobs.orders.reading.items import words_of
from jobs.orders.reading.measures import at, measure_at
from jobs.orders.reading.outcome import Mark
from jobs.orders.reading.passages import Passage, asked_shape
from jobs.orders.reading.said_for_all import height_said_first, unit_said
from jobs.orders.reading.sense import deduction_of
from jobs.orders.reading.settling import Surroundings
from jobs.orders.reading.shared_counts import counted_in, pieces_in, total_in, wished_for
from jobs.orders.reading.shared_out import counted_in_row
from jobs.orders.reading.tokens import Token
from jobs.orders.reading.unheard import (
    is_finishing,
    is_worked,
    leaves_open,
    named_again,
    orders_like_another,
    unheard_later,
)
from jobs.orders.reading.vocabulary import FILLER, OPENINGS, PIECES, THINGS

_UPWARDS = {"height", "heights", "high", "tall", "top", "bottom"}
_ACROSS = {"width", "widths", "wide", "left", "right"}
_NAMES_ONE = {"first", "second", "third", "fourth", "last", "other", "former", "latter"}
_LEAVES = frozenset({"doors", "leaves", "alcoves", "niches", "recesses"})
_SETS = {"sets", "lots", "kits", "groups"}
_FIGURES_KEPT = {"thickness", "holes", "tolerance", "corners", "area"}


def unsized(course: Course, passage: Passage, at_row: int, text: str, around: Surroundings) -> None:
    """Read a passage without a size: what it says of sizes above or below it, or nothing."""
    tokens, words = passage.tokens, words_of(passage.tokens)
    if _said_for_all(course, passage, text):
        return
    taken_off = deduction_of(tokens, None)
    figures = any(token.kind == "number" and token.whole != 1 for token in tokens)
    made = figures and "make" in words and speaks_of_a_side(tokens) and not words & {"not", "instead", "from"}
    if _one_side_of(course, passage):
        return
    if (made or differs_by(tokens)) and live(course.items) and not (taken_off is not None and taken_off.where):
        _mark(course, passage, ask_of_a_side(passage, course.items))
        return
    if taken_off is not None and (live(course.items) or taken_off.measure is not None):
        if live(course.items):
            _deduct(course, passage)
        else:
            course.heading = Heading(words, text.strip(), taken_off)
            course.passed_over.append(passage.text)
        return
    if _total(course, passage):
        return
    if _as_another(passage.text):
        _mark(course, passage, "It may order something like another: type it yourself.")
        return
    if changes(tokens):
        before = len(course.entries)
        why = apply_change(passage, course.items, course.near(at_row), around, at_row)
        if why or len(course.entries) != before:
            course.entries.append(Mark(written=passage.text[:LONGEST_WRITTEN], why=why))
            if why and text.rstrip().endswith(":"):  # “Drop items 2 and 4:” above the sizes
                course.heading = Heading(words, text.strip())
            return
        if any(passage.text in item.gone + item.worked_out + " ".join(item.tails) for item in course.items):
            course.passed_over.append(passage.text)
            return
    if _shared_in_row(course, passage, at_row):
        return
    if _more_of_each(course, passage) or _lone_count(course, passage, at_row):
        if passage.text not in course.passed_over[-1:]:
            course.passed_over.append(passage.text)
        return
    if not _unheard(course, passage, at_row):
        _figures(course, passage, words, at_row)
    if text.rstrip().endswith((":", "-", "–")):
        course.heading = Heading(words, text.strip())


def _as_another(text: str) -> bool:
    """Say whether a row with a name orders what another has: “First floor: as ground floor but only 2”."""
    named, colon, rest = text.partition(":")
    if not colon:
        named, colon, rest = text.partition(" - ")
    return bool(colon and named.strip() and rest) and orders_like_another(f": {rest.strip()}")


def _said_for_all(course: Course, passage: Passage, text: str) -> bool:
    bare = not any(token.kind == "number" for token in passage.tokens)
    if bare and (unit_said(passage.text) or height_said_first(passage.text) is not None):
        course.passed_over.append(passage.text)
        if text.rstrip().endswith(":"):
            course.heading = Heading(words_of(passage.tokens), text.strip())
        return True
    return False


def _one_side_of(course: Course, passage: Passage) -> bool:
    """Ask of the size that “Second: 450 wide” names, and mark that it gives one side alone."""
    words = words_of(passage.tokens)
    measures = [measure for place in range(len(passage.tokens))
                if (measure := measure_at(passage.tokens, place)) is not None]
    labelled = {measure.label for measure in measures if measure.label}
    if not words & _NAMES_ONE or len(labelled) != 1 or labelled - {"w", "h"} or len(measures) > 2 or (
            ":" not in words and not passage.text.lower().startswith(("the ", *_NAMES_ONE))):
        return False
    if differs_by(passage.tokens) or changes(passage.tokens) or not live(course.items):
        return False
    for item in spoken_of(passage, live(course.items)):
        item.doubts.append(f"Later it says “{passage.text[:80]}”: does that change this one?")
    _mark(course, passage, "It gives one side alone: type the size yourself.")
    return True


def _deduct(course: Course, passage: Passage) -> None:
    """Give a later deduction to the openings that have none of their own; else ask of every size it may mean."""
    words = words_of(passage.tokens)
    _openings_all(course, words)
    here, taken_off = live(course.items), deduction_of(passage.tokens, None)
    openings = [item for item in here if item.sense.of in ("opening", "frame")]
    named = spoken_of(passage, here) if len(here) > 1 else []
    targets = named or [item for item in openings if item.deduction is None] or here
    # what is taken off one side is no joint, which every edge has
    one_way = bool(words & _UPWARDS) != bool(words & _ACROSS) and not (taken_off is not None and taken_off.where)
    for item in targets:
        if item in openings or not one_way:
            item.deduction = taken_off
        if taken_off is None or taken_off.measure is None or (one_way and item not in openings):
            item.tails.append(passage.text)
        if taken_off is None or taken_off.measure is None:
            offer_multiples(item, passage)
        if item not in openings or one_way:
            item.doubts.append(f"It says “{passage.text}”.")
    course.passed_over.append(passage.text)


def _openings_all(course: Course, words: set[str]) -> bool:
    """Read “those are opening sizes” of every size above that says nothing else."""
    nouns = words & OPENINGS
    if not nouns or not words & {"those", "these", "all", "they", "both", "above"}:
        return False
    for item in live(course.items):
        if not item.sense.of:
            item.sense.of, item.sense.noun = "opening", sorted(nouns)[0]
    return True


def _total(course: Course, passage: Passage) -> bool:
    """Remember what all the sizes are said to come to: “Five in total.” under several of them."""
    total = total_in(passage.tokens)
    if not total or len(live(course.items)) < 2 or any(
            _length(passage.tokens, place) for place in range(len(passage.tokens))):
        return False
    course.pieces, course.pieces_said = total, passage.text[:LONGEST_WRITTEN]
    return True


def _shared_in_row(course: Course, passage: Passage, at_row: int) -> bool:
    """Ask how many of a size that rows share out under it: “2nd floor - 14”, “Hall 2”."""
    here, count = live(course.items), counted_in_row(passage.text)
    if not count or not here or here[-1].counted or lone_count(passage.tokens) or not (
            here[-1].row < at_row <= here[-1].row + 1 + here[-1].shared_rows) or any(
            _length(passage.tokens, place) for place in range(len(passage.tokens))):
        return False
    item = here[-1]
    known = item.quantities[1:] if item.shared else item.quantities
    item.shared += count
    item.shared_rows += 1
    item.quantities = list(dict.fromkeys([item.shared, *known]))
    item.doubts.append("Counts stand under it: how many in all?")
    _mark(course, passage, "It may be how many of the size above.")
    return True


def _more_of_each(course: Course, passage: Passage) -> bool:
    """Read “two of each, please” and “plus one spare of each” under sizes without a count."""
    tokens, words = passage.tokens, words_of(passage.tokens)
    here, counts = live(course.items), list(counts_alone(passage.tokens))
    if not counts and any(at(tokens, place) in ("spare", "extra") and at(tokens, place - 1) in ("a", "an")
                          for place in range(len(tokens))):
        counts, words = [1], words | ({"spare"} if at(tokens, len(tokens) - 1) in ("spare", "extra") else set())
    if not here and len(counts) == 1 and "each" in words and lone_count(
            [token for token in tokens if token.bare not in ("each", "of")]):
        course.of_each = counts[0]
        course.passed_over.append(passage.text)
        return True
    if not here or len(set(counts)) != 1 or any(_length(tokens, place) for place in range(len(tokens))):
        return False
    if words & {"spare", "spares"}:
        targets = here if "each" in words or len(here) == 1 else []
        for item in targets:
            more = [number + counts[0] for number in item.quantities]
            if tentative(tokens):
                item.quantities = list(dict.fromkeys([*item.quantities, *more]))
                item.doubts.append(f"It says “{passage.text[:80]}”: how many?")
                continue
            item.quantities = more
            item.says(f"As “{passage.text}” says.")
        for item in () if targets else here:
            item.doubts.append(f"It says “{passage.text}”: of this one?")
        return True
    if words & {"each", "both"} and not any(item.counted for item in here) and 1 <= counts[0] <= 500 and (
            "each" in words):
        for item in here:
            item.quantities, item.counted = [counts[0]], True
            item.doubts = [doubt for doubt in item.doubts if "how many" not in doubt]
            item.says(f"As “{passage.text}” says.")
        return True
    return False


_LETTER = re.compile(r"\W*([a-z]\d{0,2})(?:\s*[:.)=-]|\s(?:is|are|x|needs|to|should|as)\b)", re.IGNORECASE)


def _begins_alike(written: str, text: str) -> bool:
    """Say whether words name a size by the letter it begins with: “A: 500 x 700”, “A is needed three times”."""
    own, said = _LETTER.match(written), _LETTER.match(text)
    return own is not None and said is not None and own[1].lower() == said[1].lower()


def _lone_count(course: Course, passage: Passage, at_row: int) -> bool:
    """Read “Two please.” and “24 of them” behind a size without a count."""
    count, here = lone_count(passage.tokens), live(course.items)
    if labelled := [item for item in here if _begins_alike(item.written, passage.text)]:
        here = labelled if len(labelled) == 1 else here
    if any((measure := measure_at(passage.tokens, place)) is not None and measure.label
           for place in range(len(passage.tokens))):  # “second: 50 wide”
        return False
    if count and here and passage.text.lower().startswith(("+", "plus", "and", "another")):
        known = here[-1].quantities
        here[-1].quantities = [known[0] + count, *known]
        here[-1].doubts.append(f"It says “{passage.text}” below: how many?")
        return True
    if count == 1 and len(here) == 1 and not here[0].counted and here[0].quantities == [1]:
        course.passed_over.append(passage.text)
        return True
    if not count or not here or (count == 1 and any(token.spelled for token in passage.tokens)):
        return False
    uncounted = [item for item in here if not item.counted]
    if here[-1] in uncounted and (len(here) == 1 or at_row - course.last_row <= 1):
        here[-1].quantities, here[-1].counted = [count], True
        here[-1].doubts = [doubt for doubt in here[-1].doubts if "how many" not in doubt]
        here[-1].says(f"As “{passage.text}” says.")
        return True
    for item in uncounted:
        item.doubts.append(f"It says “{passage.text}”: of this one?")
    return bool(uncounted)


def _unheard(course: Course, passage: Passage, at_row: int) -> bool:
    """Mark words that may change sizes before them and that no rule acted on, and ask of those sizes."""
    tokens = passage.tokens
    here, words = live(course.items), words_of(tokens)
    if orders_like_another(passage.text):
        _mark(course, passage, "It may order something like another: type it yourself.")
        return True
    if not here and leaves_open(passage.text):
        course.left_open = passage.text[:80]
    repeated = named_again(tokens, here)
    if not here or not (repeated or unheard_later(tokens)):
        return False
    touched = repeated[0] if len(repeated) == 1 else meant(words, here, course.near(at_row))
    why = f"Later it says “{passage.text[:80]}”: does that change this one?"
    named = [] if is_finishing(passage.text) else here if touched is None else [touched]
    counts = [count for count in set(counts_alone(passage.tokens)) if 1 < count <= MOST_PANES]
    for item in named:
        item.doubts.append(why)
        offer_multiples(item, passage)
        if len(named) == 1 <= len(counts) <= 2 and not speaks_of_a_side(tokens):
            item.quantities += [count for count in counts if count not in item.quantities]
    _mark(course, passage, "It may change something above.")
    return True


def _figures(course: Course, passage: Passage, words: set[str], at_row: int) -> None:
    """Mark what holds a figure that nothing explains; remember pieces counted without a size."""
    tokens = passage.tokens
    counted = pieces_in(tokens)
    if (doors := counted_in(tokens, _LEAVES)) or ("pair" in words and words & _LEAVES):
        course.ahead = (at_row, doors or 2, passage.text[:80])
    course.things = counted_in(tokens, THINGS | OPENINGS) or course.things
    counted = counted or wished_for(tokens)
    if counted or ("pair" in words and words & PIECES):
        course.pieces, course.pieces_said = counted or 2, passage.text[:LONGEST_WRITTEN]
    figures = [token for token in tokens if token.kind == "number" and not token.spelled]
    if any(token.said in _FIGURES_KEPT for token in tokens) or (
            is_worked(passage.text) and not passage.text.endswith("?")):
        _mark(course, passage, "It is kept as a note and not acted on: choose glass, edge and holes in the line.")
    elif (shape := asked_shape(tokens)) and (shape != "shaped pane" or words & (PIECES - {"glass"})):
        _mark(course, passage, f"It speaks of a pane of another shape ({shape}), and gives no size to order it by.")
    elif any(_length(tokens, place) for place in range(len(tokens))):
        _mark(course, passage, "A length, but no width × height and no diameter of a round pane.")
    elif words & {"same", "repeat", "similar"} and _names_a_piece(tokens):
        _mark(course, passage, "It may order something like another: type it yourself.")
    elif course.items and tokens and tokens[0].said == "place" and len(tokens) > 1 and at_row == course.last_row:
        _mark(course, passage, "It names something to make and gives no size.")
    elif (figures or _a_few_words(tokens)) and not (counted and len(figures) <= 1):
        _straight_under(course, passage, at_row)
        course.ahead = (at_row, counted_in_row(passage.text), passage.text[:80])
        _mark(course, passage, "It holds a figure that was not understood.")
    else:
        course.passed_over.append(passage.text)


def _a_few_words(tokens: list[Token]) -> bool:
    """Say whether a few words hold a count in words and hardly anything else: “still three”."""
    counts = [token for token in tokens if token.spelled and token.whole > 1]
    words = [token for token in tokens if token.kind == "word" and token.bare not in FILLER]
    return len(counts) == 1 and len(words) <= 1


def _straight_under(course: Course, passage: Passage, at_row: int) -> None:
    """Ask of a size without a count whether a figure in the row under it, or after it, says how many."""
    here = live(course.items)
    things = _so_many_things(passage.tokens)
    if things and words_of(passage.tokens) & _SETS:
        course.sets, course.sets_said = things, passage.text[:80]
        return
    if things and here and here[-1].counted and here[-1].row <= at_row <= here[-1].row + 1:
        times = [count * things for count in here[-1].quantities if count * things <= MOST_PANES]
        here[-1].quantities = list(dict.fromkeys([*here[-1].quantities, *times, things]))
        here[-1].doubts.append(f"Below it says “{passage.text[:80]}”: how many?")
    if here and not here[-1].counted and here[-1].row <= at_row <= here[-1].row + 1:
        counts = [count for count in dict.fromkeys(counts_alone(passage.tokens)) if 1 < count <= MOST_PANES]
        for item in [one for one in here if not one.counted] if len(counts) > 1 else here[-1:]:
            item.quantities = list(dict.fromkeys([*item.quantities, *counts[:3]]))
            item.doubts.append(f"Below it says “{passage.text[:80]}”: how many?")


def _so_many_things(tokens: list[Token]) -> int:
    """Return the count of a sentence that says nothing else: the 3 of “3 dividers.”; 0 of any other."""
    words = [token for token in tokens if token.kind != "sign"]
    plain = len(words) == 2 and words[0].kind == "number" and words[1].kind == "word" and words[1].bare.endswith("s")
    return words[0].whole if plain and 1 < words[0].whole <= MOST_PANES and not words[1].unit else 0


def _mark(course: Course, passage: Passage, why: str) -> None:
    course.entries.append(Mark(written=passage.text[:LONGEST_WRITTEN], why=why))


def _names_a_piece(tokens: list[Token]) -> bool:
    return bool(words_of(tokens) & PIECES) or any(token.said == "place" for token in tokens)


def _length(tokens: list[Token], place: int) -> bool:
    measure = measure_at(tokens, place)
    return measure is not None and bool(measure.unit)
