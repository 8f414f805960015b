"""What an estimate is reckoned from, frozen: a quote keeps exactly this."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Literal

from recipes.facts import RecipeFacts, Shelf

Plan = Literal["spares", "rework"]
Before = Literal["silvering", "packing", "handing over"]
Shape = Literal["rectangle", "circle", "ellipse", "other"]
Route = Literal["sheet", "offcut", "cut", "own"]
#: How panes are nested: strips alone, as quotes were reckoned at first, or patterns.
Nesting = Literal["strips", "patterns"]


@dataclass(frozen=True, kw_only=True)
class House:
    """The studio's rates on the day. Money in the house currency; shares between 0 and 1."""

    currency: str = "EUR"
    minor_digits: int = 2
    tax_name: str = "VAT"
    tax_share: Fraction = Fraction(0)
    helper_per_hour: Fraction = Fraction(0)
    owner_per_hour: Fraction = Fraction(0)
    overhead_per_bench_hour: Fraction = Fraction(0)
    margin_share: Fraction = Fraction(0)
    minimum_charge: Fraction = Fraction(0)
    price_step: Fraction = Fraction(1)
    plan: Plan = "spares"
    cover_share: Fraction = Fraction(95, 100)
    glass_loss_share: Fraction = Fraction(30, 100)
    bench_width_mm: Fraction = Fraction(1000)
    bench_height_mm: Fraction = Fraction(700)
    bench_usable_share: Fraction = Fraction(7, 10)
    increment_ml: Fraction = Fraction(10)
    largest_vessel_ml: Fraction = Fraction(5000)
    balance_readability_g: Fraction = Fraction(1, 10)
    trim_mm: Fraction = Fraction(0)
    clearance_mm: Fraction = Fraction(0)
    smallest_offcut_mm: Fraction = Fraction(0)
    smallest_strip_mm: Fraction = Fraction(0)
    offcut_credit_share: Fraction = Fraction(0)
    deposit_share: Fraction = Fraction(0)
    setup_minutes: Fraction = Fraction(0)
    cutting_minutes_per_pane: Fraction = Fraction(0)
    packing_minutes_per_pane: Fraction = Fraction(0)
    hands: int = 1
    benches: int = 1
    bench_day_minutes: Fraction = Fraction(420)
    cure_hours: Fraction = Fraction(0)
    two_person_kg: Fraction = Fraction(0)
    crate_most_kg: Fraction = Fraction(0)
    crate_kg: Fraction = Fraction(0)

    @property
    def usable_area_m2(self) -> Fraction:
        return self.bench_width_mm * self.bench_height_mm * self.bench_usable_share / 1_000_000


@dataclass(frozen=True, kw_only=True)
class EdgeFacts:
    """An edge type: what it takes per metre, and what it grinds off each edge of the glass."""

    name: str
    minutes_per_m: Fraction = Fraction(0)
    grinds_off_mm: Fraction = Fraction(0)


@dataclass(frozen=True, kw_only=True)
class KeptOffcut:
    """A piece left over from an earlier job, kept under its number."""

    number: int
    width_mm: Fraction
    height_mm: Fraction


@dataclass(frozen=True, kw_only=True)
class GlassFacts:
    """A glass. Sheets cost `sheet_cost` each; given_sheets stands for a nesting made elsewhere.

    same_glass: a word that all stock sizes of one glass share; they are cut from together.
    """

    key: str
    name: str
    thickness_mm: Fraction = Fraction(4)
    sheet_width_mm: Fraction | None = None
    sheet_height_mm: Fraction | None = None
    sheet_cost: Fraction | None = None
    sheet_cost_source: str = ""
    sheet_cost_date: date | None = None
    given_sheets: int | None = None
    same_glass: str = ""
    offcuts: tuple[KeptOffcut, ...] = ()

    def offcut_cost(self, offcut: KeptOffcut, credit_share: Fraction) -> Fraction:
        """Return what a kept offcut costs the job that uses it: what was credited to the one that left it."""
        if not (self.sheet_width_mm and self.sheet_height_mm and self.sheet_cost):
            return Fraction(0)
        share = offcut.width_mm * offcut.height_mm / (self.sheet_width_mm * self.sheet_height_mm)
        return share * self.sheet_cost * credit_share


@dataclass(frozen=True, kw_only=True)
class HoleFacts:
    """A hole or a socket: its middle from the left and the lower edge, seen from the front, and its own size, in mm."""

    kind: Literal["hole", "socket"]
    width_mm: Fraction
    height_mm: Fraction
    from_left_mm: Fraction
    from_bottom_mm: Fraction


@dataclass(frozen=True, kw_only=True)
class LineFacts:
    """One order line. Sizes are finished sizes in mm; a circle's diameter stands in both.

    opening: the size was given as that of an opening, and joint_mm was left free at every edge.
    place: where a pane of a match group hangs among its neighbours.
    """

    number: int
    shape: Shape
    width_mm: Fraction
    height_mm: Fraction
    quantity: int
    recipe: str
    glass: str
    edge: str
    route: Route = "sheet"
    area_m2: Fraction | None = None
    perimeter_mm: Fraction | None = None
    cut_price_per_m2: Fraction = Fraction(0)
    cut_minimum_each: Fraction = Fraction(0)
    plan: Plan | None = None
    own_panes_to_start: int | None = None
    oversize_method: str = ""
    match_group: str = ""
    backing: str = ""
    note: str = ""
    place: str = ""
    opening: bool = False
    joint_mm: Fraction = Fraction(0)
    holes: tuple[HoleFacts, ...] = ()

    @property
    def name(self) -> str:
        return f"Line {self.number}"


@dataclass(frozen=True, kw_only=True)
class BoughtInFacts:
    """A bought-in thing, for one line or, with line None, for the whole job.

    markup_share: what is put on its cost; without one it goes through the house's margin like all else.
    before: what waits for it, until due_on, or for `days` from the order (carriage: from packing).
    """

    name: str
    cost: Fraction
    line: int | None = None
    kind: str = "thing"
    markup_share: Fraction | None = None
    days: int = 0
    due_on: date | None = None
    before: Before = "packing"

    @property
    def price(self) -> Fraction | None:
        return None if self.markup_share is None else self.cost * (1 + self.markup_share)


@dataclass(frozen=True, kw_only=True)
class Discount:
    """A share of the price, or an amount: one of the two."""

    share: Fraction = Fraction(0)
    amount: Fraction = Fraction(0)
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class Basis:
    """All that an estimate rests on."""

    as_of: date
    house: House
    shelf: Shelf
    recipes: dict[str, RecipeFacts]
    glasses: dict[str, GlassFacts]
    edges: dict[str, EdgeFacts]
    lines: tuple[LineFacts, ...]
    bought_in: tuple[BoughtInFacts, ...] = ()
    discount: Discount = Discount()
    nesting: Nesting = "strips"

    def line_recipes(self) -> list[RecipeFacts]:
        """Return the recipe versions of the order in the order in which they first appear."""
        return [self.recipes[key] for key in dict.fromkeys(line.recipe for line in self.lines)]

    def lines_of(self, recipe: str) -> list[LineFacts]:
        return [line for line in self.lines if line.recipe == recipe]
