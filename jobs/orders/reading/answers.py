"""An item becomes a line where it is sure, else a question with whole readings, or a mark. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from jobs.orders.reading.items import Item
from jobs.orders.reading.outcome import Choice, Line, Mark, Question, Result
from jobs.orders.reading.sense import Deduction
from jobs.orders.reading.settling import Settled
from studio.kit.rounding import decimal_string

_MOST_CHOICES = 6
_SHAPE_WORDS = {"rectangle": "", "circle": "round", "ellipse": "oval", "other": "a shape of its own"}
LEAVE_OUT = Choice(words="Leave it out")


def result_of(item: Item) -> Result:
    """Return what an item came to."""
    written = item.written
    if item.gone:
        return Mark(written=written, why=item.gone)
    if item.sense.of == "hole":
        return Mark(written=written, why="The size of a hole: type it in the line's own field for holes.")
    if not item.options:
        return Mark(written=written, why=next(iter(item.doubts), "No pane has that size."))
    if item.sense.of == "thing":
        why = f"This is said of the {item.sense.noun}: is a pane of this size ordered?"
        return _question(item, [why, *item.doubts], [LEAVE_OUT, *_panes(item)])
    if item.sense.of == "frame":
        why = f"This is said of the {item.sense.noun}: is it the size of the pane?"
        return _question(item, [why, *item.doubts], [*_panes(item), *_opening(item), LEAVE_OUT])
    if item.sense.of == "opening" or item.deduction is not None:
        return _in_opening(item)
    if item.shape.asked:
        return _question(item, [f"{_an(item.shape.name)}: how is it ordered?", *item.doubts],
                         [*_shaped(item), LEAVE_OUT])
    if item.doubts or len(item.options) > 1 or len(item.quantities) > 1:
        return _question(item, item.doubts or ["Which is meant?"], [*_panes(item), LEAVE_OUT])
    return _line(item, item.options[0], item.quantities[0])


def _question(item: Item, asked: list[str], choices: list[Choice]) -> Question:
    unlike = list({choice.words: choice for choice in choices}.values())
    return Question(written=item.written, asked=" ".join(filter(None, dict.fromkeys(asked))), choices=tuple(unlike))


def _an(name: str) -> str:
    return f"An {name}" if name[0] in "aeo" else f"A {name}"


def _line(
    item: Item, size: Settled, quantity: int, *, shape: str = "", note: str = "", joint: str | None = None
) -> Line:
    words = [word for word in (note, item.note, *item.tails) if word]
    circle = len(size.sides_mm) == 1
    named = shape or ("circle" if circle else item.shape.name if not item.shape.asked else "rectangle")
    if named == "circle" and not circle:
        named = "ellipse"
    return Line(
        written=item.written, quantity=quantity, size_text=size.text, shape=named, note=", ".join(words),
        holes_text="; ".join(item.holes), opening=joint is not None, joint_text=joint or "", worked_out=item.worked_out,
    )


def _panes(item: Item) -> Iterator[Choice]:
    """Give the readings as a pane: each size with each count."""
    made = 0
    for size in item.options:
        for quantity in _counts(item, size):
            if made < _MOST_CHOICES:
                yield _choice(_line(item, size, quantity, note=item.thick if quantity == item.quantities[0] else ""))
                made += 1


def _counts(item: Item, size: Settled) -> list[int]:
    """Return the counts that go with a size: “2 600 x 900” is two of the one size, or one of the other."""
    spaced = len(item.options) == 2 and len(item.quantities) == 2 and any("can be" in doubt for doubt in item.doubts)
    if not spaced:
        return item.quantities
    return [item.quantities[0 if size is item.options[0] else 1]]


def _choice(line: Line, beside: str = "") -> Choice:
    shape = _SHAPE_WORDS[line.shape]
    parts = [f"{line.quantity} × {shown(line)}", shape, beside]
    if "thick" in line.note.split(",")[0]:
        parts.append(line.note.split(",")[0])
    return Choice(words=", ".join(part for part in parts if part), line=line)


def shown(line: Line) -> str:
    """Return a line's size for reading."""
    size = line.size_text.replace(" x ", " × ")
    return f"Ø {size}" if line.shape == "circle" else size


def _shaped(item: Item) -> Iterator[Choice]:
    """Give the readings of a shape that the order has no name for."""
    for size in item.options[:3]:
        for quantity in item.quantities[:2]:
            both = size if len(size.sides_mm) == 2 else Settled(f"{size.text} x {size.text}", size.sides_mm * 2)
            name = item.shape.name
            yield _choice(_line(item, both, quantity, shape="other", note=name), f"{name}, its area to be given")
            yield _choice(_line(item, both, quantity, shape="rectangle", note=f"{name}, cut elsewhere"),
                          f"a rectangle, {name} cut elsewhere")


def _in_opening(item: Item) -> Result:
    """Return an opening's line where the joint is said, else ask for it."""
    joints = list(_joints(item.deduction))
    if len(joints) == 1 and not item.doubts and len(item.options) == 1 and len(item.quantities) == 1 and (
            not item.shape.asked):
        return _line(item, item.options[0], item.quantities[0], joint=joints[0][0])
    if len(joints) == 1:
        why = "" if item.doubts else "The size is an opening’s: is it meant so?"
    elif item.deduction is not None and item.deduction.measure is not None:
        why = "Is that left free at every edge, or in all?"
    else:
        why = "The size is an opening’s, and no clearance is given in figures: is it the pane’s own size?"
    asked = [f"{_an(item.shape.name)}: how is it ordered?"] if item.shape.asked else []
    return _question(item, [why, *asked, *item.doubts], [*_opening(item), *_panes(item), LEAVE_OUT])


def _opening(item: Item) -> Iterator[Choice]:
    joints = list(_joints(item.deduction))
    for size in item.options[:3]:
        for quantity in item.quantities[:2]:
            for joint, words in joints or [("", "an opening, the joint still to be typed")]:
                yield _choice(_line(item, size, quantity, joint=joint), words)


def _joints(deduction: Deduction | None) -> Iterator[tuple[str, str]]:
    """Give the joint at every edge that a deduction means, each with its words."""
    if deduction is None or deduction.measure is None:
        return
    measure = deduction.measure
    unit = measure.unit or "mm"
    if deduction.where != "all":
        yield measure.text(unit), f"an opening, {measure.text(unit)} left at every edge"
    if deduction.where != "edge":
        half = measure.in_mm(unit) / Fraction(2)
        yield f"{decimal_string(half, 6)} mm", f"an opening, {measure.text(unit)} less in all"
