"""A draft order: what a form, a saved order and an order file all become before they are priced or saved."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from jobs.estimating.basis import HoleFacts
from jobs.line_fields import LINE_FIELDS, from_column
from jobs.models import BoughtIn, Order, OrderLine


@dataclass(frozen=True, kw_only=True)
class DraftLine:
    """One line with its choices made, as LINE_FIELDS says. Lengths in mm, area in m², money in its currency."""

    number: int
    shape: str
    width_mm: Fraction
    height_mm: Fraction
    quantity: int
    recipe_version_id: int
    glass_id: int
    route: str
    edge: str
    area_m2: Fraction | None = None
    perimeter_mm: Fraction | None = None
    cut_price_per_m2: Decimal = Decimal(0)
    cut_minimum_each: Decimal = Decimal(0)
    own_price_each: Decimal | None = None
    plan: str = ""
    own_panes_to_start: int | None = None
    oversize_method: str = ""
    match_group: str = ""
    backing: str = ""
    note: str = ""
    place: str = ""
    opening: bool = False
    joint_mm: Fraction = Fraction(0)
    holes_text: str = ""
    holes: tuple[HoleFacts, ...] = ()
    offered: str = ""

    @property
    def name(self) -> str:
        return f"Line {self.number}"


@dataclass(frozen=True, kw_only=True)
class DraftBoughtIn:
    name: str
    cost: Decimal
    line_number: int | None = None
    kind: str = "thing"
    markup_share: Decimal | None = None
    days: int = 0
    due_on: date | None = None
    before: str = "packing"


@dataclass(frozen=True, kw_only=True)
class OrderDraft:
    lines: tuple[DraftLine, ...]
    bought_in: tuple[DraftBoughtIn, ...] = ()
    discount_share: Decimal = Decimal(0)
    discount_amount: Decimal = Decimal(0)
    discount_reason: str = ""


def _line(line: OrderLine) -> DraftLine:
    return DraftLine(
        number=line.number, **{field.name: from_column(field, getattr(line, field.name)) for field in LINE_FIELDS}
    )


def draft_of(order: Order) -> OrderDraft:
    """Return a saved order as a draft."""
    return OrderDraft(
        lines=tuple(_line(line) for line in order.lines.all()),
        bought_in=tuple(_bought_in(item) for item in order.bought_in.all()),
        discount_share=order.discount_share, discount_amount=order.discount_amount,
        discount_reason=order.discount_reason,
    )


def _bought_in(item: BoughtIn) -> DraftBoughtIn:
    return DraftBoughtIn(
        name=item.name, cost=item.cost, line_number=item.line_number, kind=item.kind,
        markup_share=item.markup_share, days=item.days, due_on=item.due_on, before=item.before,
    )
