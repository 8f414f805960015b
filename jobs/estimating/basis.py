"""Every input of an estimate, frozen: a quote keeps exactly this.

The docstrings below give each input's meaning, its unit and, after the arrow, the model and field that holds it.
`jobs/quotes/basis.py` gathers them for a day; `recipes/reading.py` gathers recipes and materials. Lengths are in mm,
areas in m², volumes in mL, masses in kg or g, times in minutes unless said otherwise; money in the studio's currency;
a share lies between 0 and 1. New fields have defaults, so that bases frozen earlier stay what they were.
"""

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
#: How panes are laid on sheets: in strips alone, as the first quotes were worked out, by patterns, or by patterns with
#: less effort, for what would be if.
Nesting = Literal["strips", "patterns", "quick patterns"]
#: where a studio says nothing of its working hours
MONDAY_TO_FRIDAY = (0, 1, 2, 3, 4)


@dataclass(frozen=True, kw_only=True)
class House:
    """The studio's rates on the day → `HouseRates`, the newest with `effective_from` reached, same field names.

    currency, minor_digits       ISO 4217 code, and its decimals
    tax_name, tax_share          tax on the net price, a share
    helper_per_hour, owner_per_hour   pay, money per hour
    overhead_per_bench_hour      money per hour of work
    margin_share                 of the price, not of the cost
    minimum_charge               money; the price is not below it
    price_step                   money; the price is rounded up to a multiple of it
    deposit_share                of the total with tax
    plan                         what is planned for spoilt panes, unless a line says otherwise: spares or rework
    cover_share                  chance of enough good panes that the spares must give, a share
    glass_loss_share             g, share of spoilt panes whose glass is lost in rework
    bench_width_mm, bench_height_mm, bench_usable_share   the bench, and how much of it may be covered
    increment_ml                 mixes are rounded up to a multiple of it, mL
    largest_vessel_ml            largest batch, mL
    balance_readability_g        of the balance, g
    trim_mm, clearance_mm        taken off each edge of a sheet; left between panes by a cut
    offcut_trim_mm               taken off each edge of a kept offcut
    smallest_offcut_mm, smallest_strip_mm   shorter side of the smallest offcut kept; narrowest strip that breaks off
    offcut_credit_share          of the sheet's cost by area, credited for an offcut kept
    setup_minutes                per job
    mixing_minutes_per_batch     per batch mixed, of a solution that says nothing else
    cutting_minutes_per_pane, packing_minutes_per_pane   per started, and per ordered pane
    hands, benches               pairs of hands, and benches, at work at once
    bench_day_minutes            minutes of work in a day
    usual_working_days           from go-ahead until an order is ready, as the studio usually takes; 0: as worked out
    working_days                 weekdays on which somebody works, Monday 0 → the days of `studio.house.models.House`
                                 that have working hours; where none has, Monday to Friday
    cure_hours                   hours from the bench to packing
    two_person_kg                kg above which two people lift; 0: no limit
    crate_most_kg, crate_kg      kg of a packed crate at most, and of an empty one
    """

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
    offcut_trim_mm: Fraction = Fraction(0)
    deposit_share: Fraction = Fraction(0)
    setup_minutes: Fraction = Fraction(0)
    mixing_minutes_per_batch: Fraction = Fraction(0)
    cutting_minutes_per_pane: Fraction = Fraction(0)
    packing_minutes_per_pane: Fraction = Fraction(0)
    hands: int = 1
    benches: int = 1
    bench_day_minutes: Fraction = Fraction(420)
    cure_hours: Fraction = Fraction(0)
    two_person_kg: Fraction = Fraction(0)
    crate_most_kg: Fraction = Fraction(0)
    crate_kg: Fraction = Fraction(0)
    usual_working_days: int = 0
    working_days: tuple[int, ...] = MONDAY_TO_FRIDAY

    @property
    def usable_area_m2(self) -> Fraction:
        return self.bench_width_mm * self.bench_height_mm * self.bench_usable_share / 1_000_000


@dataclass(frozen=True, kw_only=True)
class EdgeFacts:
    """An edge type: its name, minutes of work per m, and what it grinds off each edge in mm.

    → `EdgeType.name`, `minutes_per_m`, `grinds_off_mm` of the day's `HouseRates`; a line names it in `OrderLine.edge`
    """

    name: str
    minutes_per_m: Fraction = Fraction(0)
    grinds_off_mm: Fraction = Fraction(0)


@dataclass(frozen=True, kw_only=True)
class KeptOffcut:
    """A kept offcut that is free: its number and sides in mm → `Offcut.number`, `width_mm`, `height_mm`."""

    number: int
    width_mm: Fraction
    height_mm: Fraction


@dataclass(frozen=True, kw_only=True)
class GlassFacts:
    """A glass in one stock size → `Material` of the kind glass.

    key, name, thickness_mm            → `code`, `name`, `thickness_mm`
    sheet_width_mm, sheet_height_mm    of a whole sheet → `Material` fields of the same name
    sheet_cost                         money for a sheet → last received `Lot.cost_with_carriage` / `quantity_received`,
                                       else `Material.list_price`; sheet_cost_source and sheet_cost_date say which
    given_sheets                       sheets to charge, where the cutting was planned elsewhere; no field holds it
    sheets_at_most                     whole sheets that there are to cut from; None: as many as it takes; no field
                                       holds it
    same_glass                         a word that all stock sizes of one glass share → `Material.same_glass`
    offcuts                            the kept ones that are free → `Offcut` not promised to another job
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
    sheets_at_most: int | None = None
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
    """A hole or a socket: its middle from the left and the lower edge, seen from the front, and its size; all in mm.

    → `OrderLine.holes`, read from `holes_text`
    """

    kind: Literal["hole", "socket"]
    width_mm: Fraction
    height_mm: Fraction
    from_left_mm: Fraction
    from_bottom_mm: Fraction


@dataclass(frozen=True, kw_only=True)
class LineFacts:
    """One order line → `OrderLine`, fields of the same name. Sizes are finished sizes; a circle's diameter is in both.

    number, shape, width_mm, height_mm, quantity   as ordered; what was typed is `OrderLine.size_text`
    recipe, glass, edge        keys of the basis → `OrderLine.recipe_version`, `glass`, `edge`
    route                      glass source: a sheet, kept offcuts, bought cut, or the customer's own
    area_m2, perimeter_mm      of another shape
    cut_price_per_m2, cut_minimum_each   money, for glass that is bought cut
    own_price_each             money for a pane, net, in place of the worked-out price; None: as worked out
    plan, own_panes_to_start   spoilage plan and number of panes, where the line has its own
    oversize_method            how a pane larger than the bench is done; empty: it must fit
    match_group, place         lines made to match, and where the pane hangs among its neighbours
    backing, note              words, without effect on the price
    opening, joint_mm          whether the size typed was that of an opening, and what is left free at every edge
    holes                      holes and sockets
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
    own_price_each: Fraction | None = None

    @property
    def name(self) -> str:
        return f"Line {self.number}"


def stage_in_words(before: str) -> str:
    """Return a stage that waits for bought-in items as people say it."""
    return "delivery" if before == "handing over" else before


@dataclass(frozen=True, kw_only=True)
class BoughtInFacts:
    """A bought-in item or outside work, for one line or, with line None, for the whole order → `BoughtIn`.

    name, cost, line           its name, money, and `BoughtIn.line_number`
    kind                       item, toughening, bevelling, drilling, framing or carriage
    markup_share               on its cost; None: the studio's margin
    days, due_on               days from the order (carriage: from packing), or the day itself
    before                     the stage it is needed before
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
    def needed_before(self) -> str:
        """Return the stage it is needed before, in words."""
        return stage_in_words(self.before)

    @property
    def price(self) -> Fraction | None:
        return None if self.markup_share is None else self.cost * (1 + self.markup_share)


@dataclass(frozen=True, kw_only=True)
class Discount:
    """A share of the price or an amount of money, and why.

    → `Order.discount_share`, `discount_amount`, `discount_reason`
    """

    share: Fraction = Fraction(0)
    amount: Fraction = Fraction(0)
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class Basis:
    """All inputs of one estimate.

    as_of      the day → today in `House.time_zone`; an order file gives its own
    nesting    how panes are laid on sheets; no field holds it, quotes keep what was used

    recipes (`recipes.facts`)
    yield                            own_yield → `RecipeVersion.own_yield_share`; good and started panes of the finish's
                                     finished runs → `PaneResult.good`, `attempts`; by size → `PaneResult.area_m2`
    film thickness, nm               → `RecipeVersion.film_nm`
    has a direction on the sheet     → `Finish.has_direction`
    usual lead time, working days    → `Finish.lead_time_days`
    subject to an approved sample    → no `Trial` of it, or of what it came from, was closed as liked
    coverage, mL per m² and coat     → `Step.coverage_ml_per_m2`, or by its gun: the newest `GunCalibration`,
                                     `flow_ml_per_minute` × `passes` / `traverse_m2_per_minute`, or
                                     `stroke_ml` × `strokes_per_m2`
    coats, overspray, overspill      → `Step.coats`, `overspray_mm` beyond the edge, `overspill_share`
    zone of the face                 → `Step.zone`: all of it, a rim of `rim_width_mm`, or the `zone_share` that corners
                                     and masks are
    extra per pane, loss per load    mL → `Step.extra_per_pane_ml`, `loss_per_load_ml`
    minutes a, b, d; whose hands     → `Step.minutes_per_load`, `minutes_per_pane`, `minutes_per_m2`; `hands`
    dwell, minutes                   → `Step.dwell_minutes`, `dwell_attended`, `dwell_counted` for the load or each pane
    how it is applied                → `Step.how`, `motion`
    parts                            → `Part.solution_version`, `strength`, `parts` (its share), `mixed_for`

    shelf: solutions and materials (`recipes.facts`)
    keeps, minutes (None: immediate use)   → `SolutionVersion.keeps_minutes`, `works_at_once`; mL → `minimum_batch_ml`
    mixing a batch, minutes          → `SolutionVersion.mixing_minutes`; None: the studio's `mixing_minutes_per_batch`
    works for, minutes               → `SolutionVersion.working_minutes`: how long loads may share a mix
    ingredients, per litre           → `Ingredient.number`, `material` or `nested`, `amount_per_litre`, `unit`,
                                     `scales_with_strength`, `make_up`
    stock unit, liquid               → `Material.stock_unit`, `liquid`; g/mL → `density_g_per_ml`
    silver, g per stock unit         → `Material.silver_g_per_unit`
    unit cost, money                 → last received `Lot.cost_with_carriage` / `quantity_received` (6 decimals), else
                                     `Material.list_price`
    """

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
