"""A bench card: one solution, measured out at a volume and strength, with everything nested in it. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from recipes.chemistry.mixing import (
    HardToMeasure,
    MeasuredIngredient,
    as_tools_read,
    hard_in_mix,
    measure_batch,
    strength_changes_nothing,
    walk_solutions,
)
from recipes.facts import Shelf, SolutionFacts
from recipes.solutions.rules import hazards_within, own_cautions
from studio.stockroom.hazards.classes import is_ammoniacal_silver
from studio.stockroom.protection import protection_for


@dataclass(frozen=True, kw_only=True)
class CardRow:
    """One ingredient to measure; inside is what a nested solution is itself mixed from.

    to_read: its amount as the balance or the vessel reads, never finer. measured holds it as it was worked out.
    """

    measured: MeasuredIngredient
    to_read: Fraction
    hard: HardToMeasure | None
    inside: BenchCard | None


@dataclass(frozen=True, kw_only=True)
class BenchCard:
    """What to measure for one solution, in the order it is added. volume_ml is mixed in one vessel."""

    solution: SolutionFacts
    volume_ml: Fraction
    strength: Fraction
    rows: tuple[CardRow, ...]
    protection: tuple[str, ...]
    ammoniacal: bool
    fluoride: bool = False
    #: what its own rules warn whoever mixes it of
    own_cautions: tuple[str, ...] = ()

    @property
    def strength_changes_nothing(self) -> bool:
        """Say whether it is asked for at another strength, and none of its ingredients scales with it."""
        return self.strength != 1 and strength_changes_nothing(self.solution)

    @property
    def volume_to_read(self) -> Fraction:
        """Return the volume as a graduated vessel reads, in mL."""
        return as_tools_read(self.volume_ml, "mL", Fraction(0))


def bench_card(
    key: str, volume_ml: Fraction, strength: Fraction, shelf: Shelf, balance_readability_g: Fraction
) -> BenchCard:
    """Measure out a solution. A nested one is mixed at strength 1, in the amount its parent needs.

    Raises TooStrong, StrengthNotUsable, DensityUnknown or SolutionCycle.
    """
    walk_solutions([key], shelf)
    solution, hazards = shelf.solutions[key], hazards_within([key], shelf)
    rows = []
    for measured in measure_batch(solution, volume_ml, strength, shelf):
        nested = measured.ingredient.solution
        rows.append(CardRow(
            measured=measured,
            to_read=as_tools_read(measured.amount, measured.unit, balance_readability_g),
            hard=hard_in_mix(measured, volume_ml, balance_readability_g),
            inside=bench_card(nested, measured.amount, Fraction(1), shelf, balance_readability_g)
            if nested is not None and measured.amount > 0 else None,
        ))
    return BenchCard(
        solution=solution, volume_ml=volume_ml, strength=strength, rows=tuple(rows),
        protection=tuple(protection_for(hazards.agents, hazards.statements, chemical=hazards.chemical)),
        ammoniacal=is_ammoniacal_silver(hazards.agents), fluoride="fluoride" in hazards.agents,
        own_cautions=tuple(own_cautions(key, shelf)),
    )


def material_amounts(card: BenchCard) -> list[tuple[str, Fraction]]:
    """Return material key and amount for everything measured on a card, nested solutions down to their materials."""
    found: list[tuple[str, Fraction]] = []
    for row in card.rows:
        if row.inside is not None:
            found += material_amounts(row.inside)
        elif row.measured.ingredient.material is not None:
            found.append((row.measured.ingredient.material, row.measured.amount))
    return found
