"""What a recipe is, as plain frozen values: no Django, no database.

The models of this room are read into these; bench rules, mixing and the estimate
work on them, and a quote keeps them as they were. Amounts are exact fractions
whose unit stands in the name.
"""

from __future__ import annotations

import pickle
from dataclasses import dataclass, field, fields, replace
from datetime import date
from fractions import Fraction
from functools import cached_property
from hashlib import sha256
from typing import Literal

from recipes.step_kinds import is_attended
from studio.kit.working_hours import LIMIT_MINUTES

StockUnit = Literal["g", "mL", "sheet", "each"]
MixedFor = Literal["pane", "load", "loads", "job"]
Hands = Literal["helper", "owner"]
DwellCounted = Literal["load", "pane"]
Zone = Literal["whole", "rim", "part"]

SPRAYED = frozenset({"spray", "mist"})


@dataclass(frozen=True, kw_only=True)
class MaterialFacts:
    """A material as the estimate needs it. unit_cost is money per stock unit; None when nothing is known.

    reacts_as: all its classes, told by its identity or by the owner. unclassed: used wet, and nobody knows how it
    reacts. only_water: water, and nothing besides. of_silvering: its identity is one of silvering's own materials.
    assay_share: of the pure substance, by mass. statements: its hazard statements.
    """

    key: str
    name: str
    stock_unit: StockUnit
    liquid: bool = False
    density_g_per_ml: Fraction | None = None
    unit_cost: Fraction | None = None
    unit_cost_source: str = ""
    unit_cost_date: date | None = None
    silver_g_per_unit: Fraction = Fraction(0)
    reacts_as: frozenset[str] = frozenset()
    unclassed: bool = False
    of_silvering: bool = False
    assay_share: Fraction | None = None
    must_be_diluted: bool = False
    statements: frozenset[str] = frozenset()
    only_water: bool = False


@dataclass(frozen=True, kw_only=True)
class IngredientFacts:
    """One numbered ingredient, of a material or of another solution, per litre made."""

    number: int
    material: str | None = None
    solution: str | None = None
    amount_per_litre: Fraction = Fraction(0)
    unit: Literal["g", "mL"] = "mL"
    scales_with_strength: bool = False
    make_up: bool = False
    instruction: str = ""
    end_point: str = ""


@dataclass(frozen=True, kw_only=True)
class SolutionFacts:
    """A solution version. keeps_minutes is None for a solution that must be used at once.

    mixing_minutes: attended minutes to mix one batch; None: the studio's own for any solution. working_minutes: how
    long it can be used from the beginning of mixing, where loads may share it.
    """

    key: str
    name: str
    version_number: int = 1
    keeps_minutes: Fraction | None = None
    works_at_once: bool = False
    minimum_batch_ml: Fraction = Fraction(0)
    mixing_minutes: Fraction | None = None
    working_minutes: Fraction | None = None
    ready_after_minutes: Fraction = Fraction(0)
    reject_if: str = ""
    cautions: str = ""
    longer_keeping_reason: str = ""
    ingredients: tuple[IngredientFacts, ...] = ()

    @property
    def keeps(self) -> bool:
        return self.keeps_minutes is not None


@dataclass(frozen=True, kw_only=True)
class PartFacts:
    """A share of what a step applies: a solution at a strength, `parts` of it against the other parts."""

    solution: str
    strength: Fraction = Fraction(1)
    parts: Fraction = Fraction(1)
    mixed_for: MixedFor = "load"


@dataclass(frozen=True, kw_only=True)
class StepFacts:
    """One step of a recipe, for all its coats together.

    dwell_counted: once for the load, or for each pane, one after the other. zone: what it treats of a face: all, a rim
    of rim_width_mm, or the zone_share of it that corners and masks are (`finishes.zones`).
    """

    number: int
    kind: str
    name: str = ""
    parts: tuple[PartFacts, ...] = ()
    how: str = ""
    coats: Fraction = Fraction(1)
    coverage_ml_per_m2: Fraction = Fraction(0)
    coverage_source: str = ""
    overspray_mm: Fraction = Fraction(0)
    zone: Zone = "whole"
    rim_width_mm: Fraction = Fraction(0)
    zone_share: Fraction = Fraction(0)
    extra_per_pane_ml: Fraction = Fraction(0)
    overspill_share: Fraction = Fraction(0)
    loss_per_load_ml: Fraction = Fraction(0)
    dwell_minutes: Fraction = Fraction(0)
    dwell_attended: bool = False
    dwell_counted: DwellCounted = "load"
    motion: str = "still"
    pane_lies: str = "flat"
    drying: str = ""
    rinse_full: bool = False
    rinse_collected: bool = False
    rinse_water: str = ""
    surface_before: str = "either"
    harshness: int = 0
    minutes_per_load: Fraction = Fraction(0)
    minutes_per_pane: Fraction = Fraction(0)
    minutes_per_m2: Fraction = Fraction(0)
    hands: Hands = "helper"
    temperature_low_c: Fraction | None = None
    temperature_high_c: Fraction | None = None
    instructions: str = ""
    looks_good: str = ""
    cautions: str = ""

    def __hash__(self) -> int:
        return self._hashed

    @cached_property
    def _hashed(self) -> int:
        """Worked out once: thousands of trials share most of their steps, and look them up by value."""
        return hash(tuple(getattr(self, attribute.name) for attribute in fields(self)))

    @property
    def attended(self) -> bool:
        return is_attended(self.kind, self.dwell_attended, self.motion)

    @property
    def mixed_pane_by_pane(self) -> bool:
        return any(part.mixed_for == "pane" for part in self.parts)

    @property
    def dwells_by_pane(self) -> bool:
        """Say whether its dwell is counted for each pane: where it says so, or somebody stays with each pane's mix."""
        return self.dwell_counted == "pane" or (self.attended and self.mixed_pane_by_pane)

    def all_dwell_minutes(self, panes: int) -> Fraction:
        """Return the dwell of a load of so many panes."""
        return self.dwell_minutes * (panes if self.dwells_by_pane else 1)


@dataclass(frozen=True, kw_only=True)
class SizeBand:
    """What a finish's runs show of panes of one band of sizes, in m²; up_to_m2 None: however large."""

    over_m2: Fraction
    up_to_m2: Fraction | None
    good: int = 0
    started: int = 0

    def holds(self, area_m2: Fraction) -> bool:
        return self.over_m2 < area_m2 and (self.up_to_m2 is None or area_m2 <= self.up_to_m2)


@dataclass(frozen=True, kw_only=True)
class RunHistory:
    """What a finish's finished runs show, all recipe versions together."""

    good: int = 0
    started: int = 0
    largest_good_m2: Fraction = Fraction(0)
    most_good_in_a_run: int = 0
    bands: tuple[SizeBand, ...] = ()


@dataclass(frozen=True, kw_only=True)
class RecipeFacts:
    """A recipe version with its steps. The counts are of its finish's finished runs."""

    key: str
    finish: str
    version_number: int = 1
    in_use: bool = True
    steps: tuple[StepFacts, ...] = ()
    good: int = 0
    started: int = 0
    largest_good_m2: Fraction = Fraction(0)
    most_good_in_a_run: int = 0
    own_yield: Fraction | None = None
    film_nm: Fraction = Fraction(70)
    has_direction: bool = False
    bands: tuple[SizeBand, ...] = ()
    usual_days: int = 0
    subject_to_sample: bool = False


@dataclass(frozen=True, kw_only=True)
class Shelf:
    """Everything that steps and ingredients may name, by key, and how long ammoniacal silver may stand in the studio.
    """

    materials: dict[str, MaterialFacts] = field(default_factory=dict)
    solutions: dict[str, SolutionFacts] = field(default_factory=dict)
    ammoniacal_limit_minutes: int = LIMIT_MINUTES

    @cached_property
    def digest(self) -> bytes:
        """Return what tells this shelf from every other, worked out once."""
        return sha256(pickle.dumps((self.materials, self.solutions, self.ammoniacal_limit_minutes))).digest()

    def with_all_of(self, other: Shelf) -> Shelf:
        """Return a shelf that holds what either holds; the other's where both do."""
        return replace(self, materials=self.materials | other.materials, solutions=self.solutions | other.solutions)

LEFT_OUT = "left out"
YES, NO = "yes", "no"
