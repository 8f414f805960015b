"""A field of an order line, once: what it is, where it is typed, and where it goes from there. Pure: no Django.

Draft, form, saved line, a customer's own choices, the estimate's facts and the order file are all read from
LINE_FIELDS. A field's name is its name everywhere; what a person types or a file writes may be called otherwise.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any, Literal

from jobs.estimating.hole_words import as_kept, from_kept, read_holes
from studio.kit.rounding import as_decimal, decimal_string, plain
from studio.kit.typed_values import LENGTH_DECIMALS, RATIO_DECIMALS
from studio.kit.units import amount_in

Kind = Literal["text", "choice", "length", "area", "money", "whole number", "yes/no", "reference", "holes"]


@dataclass(frozen=True, kw_only=True)
class LineField:
    """One field of an order line, beside its number.

    kind: lengths are fractions of mm, areas of m²; money is decimal; a reference is a row's id, in the estimate a code.
    default: what a line has where nothing was said; a field without one must be given.
    typed: the form's field that it is read from; "" where it comes from another's (a size gives width and height).
    label, help, longest, least, most, example, rows: of that form field. folded: it stands in the form's folded part.
    handed_on: the next new line starts with it, and a customer's kept choices hold it.
    spread: it is given to all lines by “Same choices for all”. counts: the estimate is told of it.
    none_is: what stands for no choice of one's own; the estimate is then told None.
    file: its name in an order file, about what stands beside it in the schema; "" where the file says it otherwise.
    """

    name: str
    kind: Kind
    default: Any = None
    required: bool = False
    typed: str = ""
    label: str = ""
    help: str = ""
    longest: int = 0
    least: int | None = None
    most: int | None = None
    example: str = ""
    rows: int = 0
    none_is: str = ""
    folded: bool = False
    handed_on: bool = False
    spread: bool = True
    counts: bool = True
    file: str = ""
    about: str = ""

    @property
    def is_a_fact(self) -> bool:
        """Say whether the estimate is told of it under its own name; of recipe and glass it is told by code."""
        return self.counts and self.kind != "reference"


LINE_FIELDS: tuple[LineField, ...] = (
    LineField(name="shape", kind="choice", required=True, default="rectangle", typed="shape", handed_on=True,
              spread=False, file="shape"),
    LineField(name="width_mm", kind="length", required=True, typed="size_text", label="Size", longest=60,
              example="24 3/8 x 36"),
    LineField(name="height_mm", kind="length", required=True),
    LineField(name="quantity", kind="whole number", required=True, default=1, typed="quantity", least=1, most=500,
              file="quantity"),
    LineField(name="recipe_version_id", kind="reference", required=True, typed="recipe_version", label="Finish",
              handed_on=True),
    LineField(name="glass_id", kind="reference", required=True, typed="glass", handed_on=True),
    LineField(name="route", kind="choice", required=True, default="sheet", typed="route", label="Glass comes",
              handed_on=True, file="route"),
    LineField(name="edge", kind="choice", required=True, typed="edge", handed_on=True, file="edge"),
    LineField(name="backing", kind="choice", default="", typed="backing", handed_on=True, file="backing",
              help="What a board costs goes under bought in."),
    LineField(name="cut_price_per_m2", kind="money", default=Decimal(0), typed="cut_price_per_m2", folded=True,
              label="Bought cut, price per m²", handed_on=True, file="cut_price_per_m2"),
    LineField(name="cut_minimum_each", kind="money", default=Decimal(0), typed="cut_minimum_each", folded=True,
              label="at least, each", handed_on=True, file="cut_minimum_each"),
    LineField(name="area_m2", kind="area", typed="area_text", folded=True, longest=40, label="Area of another shape",
              help="For instance 0.25 m2; the size is then its bounding rectangle.", file="area",
              about="For another shape: its area, with the bounding rectangle as size."),
    LineField(name="perimeter_mm", kind="length", typed="perimeter_text", folded=True, longest=40,
              label="Its perimeter", file="perimeter"),
    LineField(name="plan", kind="choice", default="", typed="plan", none_is="as the house does", folded=True,
              label="Spoilage plan", handed_on=True, file="plan"),
    LineField(name="own_panes_to_start", kind="whole number", typed="own_panes_to_start", least=1, folded=True,
              label="Panes to start, your own number", file="own_panes_to_start"),
    LineField(name="oversize_method", kind="text", default="", typed="oversize_method", folded=True,
              label="Oversize: how it is done", file="oversize_method"),
    LineField(name="match_group", kind="text", default="", typed="match_group", folded=True, handed_on=True,
              spread=False, help="Lines with one name are worked to match.", file="match_group"),
    LineField(name="place", kind="text", default="", typed="place", folded=True, label="Its place on the wall",
              help="Among its neighbours, for instance 1, or A2.", file="place",
              about="Where a pane of a match group hangs among its neighbours."),
    LineField(name="opening", kind="yes/no", default=False, typed="opening", folded=True,
              label="The size is that of the opening"),
    LineField(name="joint_mm", kind="length", default=Fraction(0), typed="joint_text", folded=True, longest=30,
              label="Joint left at every edge", file="joint",
              help="The finished size is the opening less the joint on both sides.",
              about="The size is an opening's; so much is left free at every edge."),
    LineField(name="holes_text", kind="text", default="", typed="holes_text", folded=True, longest=1000, rows=2,
              label="Holes and sockets", counts=False, file="holes",
              help="One a line, from the left and the lower edge to the middle, seen from the front: "
                   "hole 10 mm at 50 x 60 mm; socket 80 x 80 mm at 300 x 400 mm.",
              about="“hole 10 mm at 50 x 60 mm; socket 80 x 80 mm at 300 x 400 mm”: from the left "
                    "and the lower edge to the middle, seen from the front."),
    LineField(name="holes", kind="holes", default=(), file="holes"),
    LineField(name="note", kind="text", default="", typed="note", folded=True, file="note"),
)
TYPED = tuple(one for one in LINE_FIELDS if one.typed)
FOLDED = tuple(one.typed for one in TYPED if one.folded)
#: What one line hands to the next, as typed: everything but what makes it itself.
HANDED_ON = tuple(one.typed for one in TYPED if one.handed_on)
SPREAD = tuple(one.typed for one in TYPED if one.handed_on and one.spread)
#: What a customer's kept choices hold beside finish and glass: a group is of one order.
KEPT_CHOICES = tuple(one for one in TYPED if one.handed_on and one.kind != "reference" and one.name != "match_group")

_DECIMALS = {"length": LENGTH_DECIMALS, "area": RATIO_DECIMALS}
_UNITS: Mapping[str, tuple[Literal["length", "area"], str]] = {"length": ("length", "mm"), "area": ("area", "m2")}


def from_column(one: LineField, value: Any) -> Any:
    """Return a saved value as a draft holds it."""
    if one.kind == "holes":
        return from_kept(value)
    return Fraction(value) if one.kind in _DECIMALS and value is not None else value


def to_column(one: LineField, value: Any) -> Any:
    """Return a draft's value as it is saved."""
    if one.kind == "holes":
        return as_kept(value)
    return as_decimal(value, _DECIMALS[one.kind]) if one.kind in _DECIMALS and value is not None else value


def from_form(one: LineField, cleaned: Mapping[str, Any]) -> Any:
    """Return a draft's value from a cleaned form: what the form read out of a text stands under the field's name."""
    value = cleaned.get(one.name, cleaned.get(one.typed) if one.kind not in _DECIMALS else None)
    return one.default if value is None else value


def to_form(one: LineField, value: Any) -> Any:
    """Return a draft's value as the form shows it."""
    if one.kind in _UNITS:
        return f"{decimal_string(value)} {_UNITS[one.kind][1]}" if value else ""
    if one.kind == "money":
        return plain(value) if value else ""
    return value


def to_facts(one: LineField, value: Any) -> Any:
    """Return a draft's value as the estimate takes it: exact, and None where a choice is left to the house."""
    if one.kind == "money":
        return Fraction(value)
    return value or None if one.none_is else value


def from_file(one: LineField, entry: Mapping[str, Any]) -> Any:
    """Return a draft's value from an order file's line. Raises what reading an amount or a hole raises."""
    if one.file not in entry:
        return one.default
    written, read = entry[one.file], _READ.get(one.kind)
    return read(written) if read else written


_READ: Mapping[str, Callable[[Any], Any]] = {
    "length": lambda written: amount_in(written, "length"), "area": lambda written: amount_in(written, "area"),
    "money": Decimal, "holes": read_holes,
}
