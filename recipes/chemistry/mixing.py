"""Measure out a batch: from a solution, a volume and a strength to what goes in the jug.

Pure: no Django. Amount = amount per litre × volume / 1000, × strength where the
ingredient scales with it; rounded half up to 0.001 of the stock unit (a nested
solution to 0.001 mL); the make-up ingredient fills what is left of the volume.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from recipes.facts import IngredientFacts, MaterialFacts, Shelf, SolutionFacts
from studio.kit.errors import DaybookError
from studio.kit.rounding import decimal_string, half_up, places, round_down, round_up

MEASURE = places(3)


class MixError(DaybookError):
    """A mix that cannot be made as written."""


class DensityUnknown(MixError):
    def __init__(self, material: str) -> None:
        super().__init__(
            f"{material} is measured in one unit and stocked in another, and its density is not known. "
            f"Give {material} a density."
        )


class TooStrong(MixError):
    def __init__(self, solution: str, strength: Fraction, strongest: Fraction | None) -> None:
        limit = f"the strongest possible is {decimal_string(strongest, 2)}" if strongest is not None else (
            "what does not scale with strength already fills more than a litre, so no strength is possible"
        )
        super().__init__(f"{solution} cannot be mixed at strength {decimal_string(strength, 6)}: {limit}.", "strength")
        self.strongest = strongest


class StrengthNotUsable(MixError):
    """A strength that this solution cannot be mixed at."""


class SolutionCycle(MixError):
    def __init__(self, names: tuple[str, ...]) -> None:
        super().__init__("A solution cannot hold itself: " + " → ".join(names) + ".")


@dataclass(frozen=True, kw_only=True)
class MeasuredIngredient:
    """What to measure for one batch. amount is in `unit`: the material's stock unit, or mL of a solution."""

    ingredient: IngredientFacts
    name: str
    amount: Fraction
    unit: str

    @property
    def not_measurable(self) -> bool:
        return self.ingredient.amount_per_litre > 0 and self.amount == 0


def measure_batch(
    solution: SolutionFacts, volume_ml: Fraction, strength: Fraction, shelf: Shelf
) -> tuple[MeasuredIngredient, ...]:
    """Return the measured ingredients of one batch, in the order they are added.

    volume_ml: the batch made; strength: multiplies the ingredients that scale with it, above zero.
    Raises TooStrong, StrengthNotUsable or DensityUnknown.
    """
    check_strength(solution, strength, shelf)
    measured: dict[int, MeasuredIngredient] = {}
    for ingredient in solution.ingredients:
        if not ingredient.make_up:
            dose = ingredient.amount_per_litre * volume_ml / 1000 * (strength if ingredient.scales_with_strength else 1)
            measured[ingredient.number] = _measured(ingredient, dose, ingredient.unit, shelf)
    for ingredient in solution.ingredients:
        if ingredient.make_up:
            rest = volume_ml - sum((volume_of(other, shelf) for other in measured.values()), Fraction(0))
            if rest < 0:
                raise TooStrong(solution.name, strength, strongest_possible(solution, shelf))
            measured[ingredient.number] = _measured(ingredient, rest, "mL", shelf)
    return tuple(measured[ingredient.number] for ingredient in solution.ingredients)


def _measured(ingredient: IngredientFacts, dose: Fraction, unit: str, shelf: Shelf) -> MeasuredIngredient:
    if ingredient.solution is not None:
        name, amount, _stocked_in = shelf.solutions[ingredient.solution].name, dose, "mL"
        if unit != "mL":
            raise MixError(f"{name} is a solution: give it in mL per litre.", "amount_per_litre")
        amount = half_up(amount, MEASURE)
        return MeasuredIngredient(ingredient=ingredient, name=name, amount=amount, unit="mL")
    material = shelf.materials[ingredient.material or ""]
    amount = half_up(in_stock_unit(material, dose, unit), MEASURE)
    return MeasuredIngredient(ingredient=ingredient, name=material.name, amount=amount, unit=material.stock_unit)


def volume_of(measured: MeasuredIngredient, shelf: Shelf) -> Fraction:
    """Return what a measured ingredient fills, in mL: solids nothing, a liquid stocked in g its grams / density.

    Raises DensityUnknown: asked only where something is made up to volume.
    """
    if measured.ingredient.solution is not None:
        return measured.amount
    return _volume(shelf.materials[measured.ingredient.material or ""], measured.amount)


def in_stock_unit(material: MaterialFacts, amount: Fraction, unit: str) -> Fraction:
    """Convert a dose in g or mL to the material's stock unit. Raises DensityUnknown."""
    if unit == material.stock_unit:
        return amount
    if material.density_g_per_ml is None or {unit, material.stock_unit} != {"g", "mL"}:
        raise DensityUnknown(material.name)
    return amount * material.density_g_per_ml if unit == "mL" else amount / material.density_g_per_ml


def _volume(material: MaterialFacts, amount: Fraction) -> Fraction:
    if not material.liquid:
        return Fraction(0)
    if material.stock_unit == "mL":
        return amount
    if material.density_g_per_ml is None:
        raise DensityUnknown(material.name)
    return amount / material.density_g_per_ml


def _millilitres_per_litre(ingredient: IngredientFacts, shelf: Shelf) -> Fraction:
    """Return the volume that one litre made holds of this ingredient (solids add none)."""
    if ingredient.solution is not None:
        return ingredient.amount_per_litre
    material = shelf.materials[ingredient.material or ""]
    if not material.liquid:
        return Fraction(0)
    if ingredient.unit == "mL":
        return ingredient.amount_per_litre
    return _volume(material, in_stock_unit(material, ingredient.amount_per_litre, "g"))


WEIGH_AT_LEAST = 10  # times the balance's readability


@dataclass(frozen=True, kw_only=True)
class StockSolution:
    """What makes a small amount measurable: a stock solution, and how much of it holds the amount."""

    grams_per_litre: Fraction
    measured_ml: Fraction


#: a vessel of up to so many mL is read to the first figure, a larger one to whole mL
FINE_VESSEL_ML, FINE_GRADUATION, GRADUATION = 100, places(1), Fraction(1)


def as_tools_read(amount: Fraction, unit: str, readability_g: Fraction) -> Fraction:
    """Return an amount as it is weighed or poured: grams as the balance reads, mL as a graduated vessel does.

    Half up; what is less than the tools can read stays as it was worked out.
    """
    step = readability_g if unit == "g" else FINE_GRADUATION if amount < FINE_VESSEL_ML else GRADUATION
    read = half_up(amount, step) if step > 0 else amount
    return read if read > 0 else amount


#: what is weighed or poured may differ from what was worked out by this share, no more
MOVES_AT_MOST = Fraction(2, 100)


@dataclass(frozen=True, kw_only=True)
class HardToMeasure:
    """An amount that the studio's tools do not read well, and what makes it readable.

    larger_ml: the mix in which it is a whole figure of the tool; stock: what is weighed by the ten times of the
    readability into 100 mL, of which the share that holds the amount is measured.
    """

    larger_ml: Fraction
    stock: StockSolution | None = None


def hard_to_measure(amount: Fraction, unit: str, volume_ml: Fraction, readability_g: Fraction) -> HardToMeasure | None:
    """Return what helps an amount of a mix that cannot be measured well, or None for one that can.

    A solid below ten times the balance's readability cannot; nor can what rounding to the tools moves by over 2 %.
    """
    step = readability_g if unit == "g" else FINE_GRADUATION if amount < FINE_VESSEL_ML else GRADUATION
    if amount <= 0 or step <= 0 or unit not in ("g", "mL"):
        return None
    least = WEIGH_AT_LEAST * readability_g if unit == "g" else Fraction(0)
    if amount >= least and abs(as_tools_read(amount, unit, readability_g) - amount) <= MOVES_AT_MOST * amount \
            and amount >= step:
        return None
    larger_ml = volume_ml * max(least, round_up(amount, step)) / amount
    if unit == "mL":
        return HardToMeasure(larger_ml=larger_ml)
    weighed = round_up(amount, least)
    return HardToMeasure(larger_ml=larger_ml, stock=StockSolution(
        grams_per_litre=weighed * 10, measured_ml=amount * 100 / weighed))


def hard_in_mix(measured: MeasuredIngredient, volume_ml: Fraction, readability_g: Fraction) -> HardToMeasure | None:
    """Return what helps an ingredient of a mix that cannot be measured well: one answer for whatever shows it.

    What makes up to volume is filled to a mark, and not measured.
    """
    if measured.ingredient.make_up:
        return None
    return hard_to_measure(measured.amount, measured.unit, volume_ml, readability_g)


def strength_changes_nothing(solution: SolutionFacts) -> bool:
    """Say whether no ingredient scales, so that a solution is the same at every strength."""
    return not any(ingredient.scales_with_strength for ingredient in solution.ingredients)


def is_liquid(ingredient: IngredientFacts, shelf: Shelf) -> bool:
    return ingredient.solution is not None or shelf.materials[ingredient.material or ""].liquid


def strongest_possible(solution: SolutionFacts, shelf: Shelf) -> Fraction | None:
    """Return (1000 − fixed mL) / scaled mL per litre, rounded down to 0.01; None where nothing limits it.

    Scaled are the liquids that scale with strength, fixed the others.
    """
    fixed = scaled = Fraction(0)
    for ingredient in solution.ingredients:
        if not ingredient.make_up:
            volume = _millilitres_per_litre(ingredient, shelf)
            if ingredient.scales_with_strength:
                scaled += volume
            else:
                fixed += volume
    if scaled == 0 or fixed > 1000:
        return None
    return round_down((1000 - fixed) / scaled, places(2))


def check_strength(solution: SolutionFacts, strength: Fraction, shelf: Shelf) -> None:
    """Refuse a strength at or below zero, and any but 1 where a liquid scales and nothing makes up to volume."""
    if strength <= 0:
        raise StrengthNotUsable(f"{solution.name}: the strength must be above zero.", "strength")
    makes_up = any(ingredient.make_up for ingredient in solution.ingredients)
    liquid_scales = any(i.scales_with_strength and is_liquid(i, shelf) for i in solution.ingredients)
    if strength != 1 and liquid_scales and not makes_up:
        raise StrengthNotUsable(
            f"{solution.name} has a liquid that scales with strength and nothing that makes it up to volume: "
            "it can be mixed at strength 1 only.", "strength",
        )


def liquids_off_a_litre(solution: SolutionFacts, shelf: Shelf) -> Fraction | None:
    """Return the sum of liquids in mL per litre when there is no make-up and it is not a litre, else None."""
    if any(ingredient.make_up for ingredient in solution.ingredients):
        return None
    total = sum((_millilitres_per_litre(i, shelf) for i in solution.ingredients), Fraction(0))
    return None if total == 1000 else total


def walk_solutions(roots: list[str], shelf: Shelf) -> tuple[str, ...]:
    """Return the keys of the roots and all that is nested in them, every parent before its children.

    Raises SolutionCycle, naming the solutions on the way.
    """
    order: list[str] = []
    visited: set[str] = set()

    def visit(key: str, path: tuple[str, ...]) -> None:
        if key in path:
            raise SolutionCycle(tuple(shelf.solutions[k].name for k in (*path[path.index(key):], key)))
        if key in visited:
            return
        for ingredient in shelf.solutions[key].ingredients:
            if ingredient.solution is not None:
                visit(ingredient.solution, (*path, key))
        visited.add(key)
        order.append(key)

    for root in roots:
        visit(root, ())
    return tuple(reversed(order))


def materials_within(solution: str, shelf: Shelf) -> Iterator[MaterialFacts]:
    """Yield every material of a solution, at any depth of nesting."""
    for key in walk_solutions([solution], shelf):
        for ingredient in shelf.solutions[key].ingredients:
            if ingredient.material is not None:
                yield shelf.materials[ingredient.material]
