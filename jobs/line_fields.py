"""The fields of an order line, each once: what it is, where it is typed, and where it goes from there. Pure: no Django.

Draft, form, saved line, a customer's presets, the estimate's facts and the order file all follow LINE_FIELDS. A field
has one name everywhere; the form field it is typed in, and its key in a file, may have another.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any, Literal

from jobs.estimating.hole_words import from_saved, read_holes, to_saved
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
    carried_over: the next new line starts with it, and a customer's preset holds it.
    spread: it is given to all lines by “Same choices for all”. counts: the estimate takes it.
    none_is: the label of no choice of its own; the estimate then takes None.
    file: its key in an order file, about its description in the schema; "" where the file gives it otherwise.
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
    carried_over: bool = False
    spread: bool = True
    counts: bool = True
    file: str = ""
    about: str = ""

    @property
    def is_a_fact(self) -> bool:
        """Say whether the estimate takes it under its own name; recipe and glass it takes by code."""
        return self.counts and self.kind != "reference"


LINE_FIELDS: tuple[LineField, ...] = (
    LineField(name="shape", kind="choice", required=True, default="rectangle", typed="shape", carried_over=True,
              spread=False, file="shape"),
    LineField(name="width_mm", kind="length", required=True, typed="size_text", label="Size", longest=60,
              example="24 3/8 x 36"),
    LineField(name="height_mm", kind="length", required=True),
    LineField(name="quantity", kind="whole number", required=True, default=1, typed="quantity", least=1, most=500,
              file="quantity"),
    LineField(name="recipe_version_id", kind="reference", required=True, typed="recipe_version", label="Finish",
              carried_over=True),
    LineField(name="glass_id", kind="reference", required=True, typed="glass", carried_over=True),
    LineField(name="route", kind="choice", required=True, default="sheet", typed="route", label="Glass source",
              carried_over=True, file="route"),
    LineField(name="edge", kind="choice", required=True, typed="edge", carried_over=True, file="edge"),
    LineField(name="backing", kind="choice", default="", typed="backing", carried_over=True, file="backing",
              help="Enter the cost of a board as a bought-in item."),
    LineField(name="cut_price_per_m2", kind="money", default=Decimal(0), typed="cut_price_per_m2", folded=True,
              label="Bought cut, price per m²", carried_over=True, file="cut_price_per_m2"),
    LineField(name="cut_minimum_each", kind="money", default=Decimal(0), typed="cut_minimum_each", folded=True,
              label="Bought cut, minimum price each", carried_over=True, file="cut_minimum_each"),
    LineField(name="own_price_each", kind="money", typed="own_price_each", folded=True, label="Own price each",
              help="Net, for one pane, in place of the worked-out price. No discount is taken from it.",
              file="own_price_each", about="Net for one pane, in place of the worked-out price."),
    LineField(name="area_m2", kind="area", typed="area_text", folded=True, longest=40, label="Area of another shape",
              help="For instance 0.25 m2; the size is then its bounding rectangle.", file="area",
              about="For another shape: its area, with the bounding rectangle as size."),
    LineField(name="perimeter_mm", kind="length", typed="perimeter_text", folded=True, longest=40,
              label="Perimeter of another shape", file="perimeter"),
    LineField(name="plan", kind="choice", default="", typed="plan", none_is="as in Studio settings", folded=True,
              label="Spoilage plan", carried_over=True, file="plan"),
    LineField(name="own_panes_to_start", kind="whole number", typed="own_panes_to_start", least=1, folded=True,
              label="Panes to start, if you set the number", file="own_panes_to_start"),
    LineField(name="oversize_method", kind="text", default="", typed="oversize_method", folded=True,
              label="Oversize: how it is done", file="oversize_method"),
    LineField(name="match_group", kind="text", default="", typed="match_group", folded=True, carried_over=True,
              spread=False, help="Lines with the same name are made to match.", file="match_group"),
    LineField(name="place", kind="text", default="", typed="place", folded=True, label="Place on the wall",
              help="For instance 1, or A2.", file="place",
              about="Where a pane of a match group hangs among its neighbours."),
    LineField(name="opening", kind="yes/no", default=False, typed="opening", folded=True,
              label="The size typed is the opening"),
    LineField(name="joint_mm", kind="length", default=Fraction(0), typed="joint_text", folded=True, longest=30,
              label="Joint left at every edge", file="joint",
              help="The finished size is the opening less the joint on both sides.",
              about="The size is that of an opening; this length is left free at every edge."),
    LineField(name="holes_text", kind="text", default="", typed="holes_text", folded=True, longest=1000, rows=2,
              label="Holes and sockets", counts=False, file="holes",
              help="One a line, from the left and the lower edge to the middle, seen from the front: "
                   "hole 10 mm at 50 x 60 mm; hole 35 mm at centre; socket 80 x 80 mm at 300 x 400 mm.",
              about="“hole 10 mm at 50 x 60 mm; socket 80 x 80 mm at 300 x 400 mm”: from the left "
                    "and the lower edge to the middle, seen from the front."),
    LineField(name="holes", kind="holes", default=(), file="holes"),
    LineField(name="note", kind="text", default="", typed="note", folded=True, file="note"),
    LineField(name="offered", kind="choice", default="", typed="offered", folded=True, counts=False, file="offered",
              label="Offered", help="In one of several options side by side, or as an extra to choose.",
              about="“A” to “D”: in that option alone; “+”: optional; without it, always."),
)
TYPED = tuple(field for field in LINE_FIELDS if field.typed)
FOLDED = tuple(field.typed for field in TYPED if field.folded)
#: What a new line takes from the line before, as typed: not size, quantity or what belongs to one pane.
CARRIED_OVER = tuple(field.typed for field in TYPED if field.carried_over)
SPREAD = tuple(field.typed for field in TYPED if field.carried_over and field.spread)
#: What a customer's preset holds beside finish and glass; a match group belongs to one order.
PRESET_FIELDS = tuple(
    field for field in TYPED if field.carried_over and field.kind != "reference" and field.name != "match_group"
)

_DECIMALS = {"length": LENGTH_DECIMALS, "area": RATIO_DECIMALS}
_UNITS: Mapping[str, tuple[Literal["length", "area"], str]] = {"length": ("length", "mm"), "area": ("area", "m2")}


def from_column(field: LineField, value: Any) -> Any:
    """Return a saved value as a draft holds it."""
    if field.kind == "holes":
        return from_saved(value)
    return Fraction(value) if field.kind in _DECIMALS and value is not None else value


def to_column(field: LineField, value: Any) -> Any:
    """Return a draft's value as it is saved."""
    if field.kind == "holes":
        return to_saved(value)
    return as_decimal(value, _DECIMALS[field.kind]) if field.kind in _DECIMALS and value is not None else value


def from_form(field: LineField, cleaned: Mapping[str, Any]) -> Any:
    """Return a draft's value from a cleaned form: what the form read out of a text stands under the field's name."""
    value = cleaned.get(field.name, cleaned.get(field.typed) if field.kind not in _DECIMALS else None)
    return field.default if value is None else value


def to_form(field: LineField, value: Any) -> Any:
    """Return a draft's value as the form shows it."""
    if field.kind in _UNITS:
        return f"{decimal_string(value)} {_UNITS[field.kind][1]}" if value else ""
    if field.kind == "money":
        return plain(value) if value or (value is not None and field.default is None) else ""  # a price may be nothing
    return value


def to_facts(field: LineField, value: Any) -> Any:
    """Return a draft's value as the estimate takes it: exact, and None where the studio's own setting holds."""
    if field.kind == "money":
        return None if value is None else Fraction(value)
    return value or None if field.none_is else value


def from_file(field: LineField, entry: Mapping[str, Any]) -> Any:
    """Return a draft's value from an order file's line. Raises what reading an amount or a hole raises."""
    if field.file not in entry:
        return field.default
    written, read = entry[field.file], _READ.get(field.kind)
    return read(written) if read else written


_READ: Mapping[str, Callable[[Any], Any]] = {
    "length": lambda written: amount_in(written, "length"), "area": lambda written: amount_in(written, "area"),
    "money": Decimal, "holes": read_holes,
}
