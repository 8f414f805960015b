"""Mixes: what is mixed, in which batches, from what, and for which recipe versions.

Formula: V = max(⌈needed / i⌉·i, ⌈minimum / i⌉·i), in ⌈V / vessel⌉ equal batches, each rounded up to i. Source: bench
practice; i is the step that mixes are rounded up to, the vessel the largest there is, both in mL.
Needs are summed over what a mix serves, rounded up to what mixes are rounded up to,
raised to the minimum batch and split into the fewest equal batches that the
largest vessel holds. A nested solution that keeps is pooled over the job; one
that does not is made once per batch of its parent.

What is mixed for as many loads as it works for serves consecutive loads of a recipe in one step; so does a nested
solution that is used at once and has a working time. Which loads share is worked out in `sharing`.

Mixing is work: minutes of a mix = minutes per batch · batches, attended; charged like its cost, by need.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, field
from fractions import Fraction

from jobs.estimating.basis import GlassFacts, House
from jobs.estimating.refusals import EstimateError
from jobs.estimating.volumes import Need
from recipes.chemistry.mixing import MeasuredIngredient, measure_batch, strength_changes_nothing, walk_solutions
from recipes.facts import MaterialFacts, MixedFor, Shelf, SolutionFacts
from recipes.solutions.rules import shared_for_minutes
from studio.kit.rounding import decimal_string, round_up


@dataclass(frozen=True, kw_only=True)
class Batch:
    """One vesselful. `inside` names the parent mix and batch that a nested solution is made for."""

    number: int
    volume_ml: Fraction
    ingredients: tuple[MeasuredIngredient, ...]


@dataclass(frozen=True, kw_only=True)
class LoadShare:
    """What one load needs of a mix that loads share."""

    load: int
    needed_ml: Fraction


#: What loads share: recipe, step, solution and strength.
SharedKey = tuple[str, int, str, Fraction]


@dataclass(frozen=True, kw_only=True)
class Sharing:
    """Which loads share. cuts: those with which a mix is made afresh. apart: those in which a nested solution is mixed
    for each batch of its parent, because the load alone takes longer than it works.
    """

    cuts: Mapping[SharedKey, Set[int]] = field(default_factory=dict)
    apart: Set[tuple[SharedKey, int]] = frozenset()


@dataclass(frozen=True, kw_only=True)
class Mix:
    """One solution at one strength, made for a pane, a load, several loads, the job or a batch of another mix.

    load: the one it is mixed with. shared: what each load needs of a mix for as many loads as it works for, in order.
    """

    number: int
    solution: SolutionFacts
    strength: Fraction
    mixed_for: str
    recipe: str
    step: int | None
    load: int | None
    pane: str
    parent_mix: int | None
    needed_ml: Fraction
    batches: tuple[Batch, ...]
    #: share of the mix that each recipe version is charged for; the shares sum to one
    charged: dict[str, Fraction]
    shared: tuple[LoadShare, ...] = ()

    @property
    def shared_key(self) -> SharedKey:
        return self.recipe, self.step or 0, self.solution.key, self.strength

    @property
    def made_ml(self) -> Fraction:
        return sum((batch.volume_ml for batch in self.batches), Fraction(0))

    @property
    def strength_changes_nothing(self) -> bool:
        """Say whether it is mixed at another strength, and none of its ingredients scales with it."""
        return self.strength != 1 and strength_changes_nothing(self.solution)

    @property
    def spare_ml(self) -> Fraction:
        return self.made_ml - self.needed_ml

    def material_amounts(self) -> Iterable[tuple[str, Fraction]]:
        """Yield material key and amount in stock unit for every ingredient of every batch."""
        for batch in self.batches:
            for measured in batch.ingredients:
                if measured.ingredient.material is not None:
                    yield measured.ingredient.material, measured.amount

    def minutes(self, house: House) -> Fraction:
        """Return the attended minutes of mixing it: the solution's own per batch, else the studio's, times batches.

        Exact. Nested solutions that are mixes of their own carry their own.
        """
        own = self.solution.mixing_minutes
        return (house.mixing_minutes_per_batch if own is None else own) * len(self.batches)

    def cost(self, shelf: Shelf) -> Fraction:
        """Return the cost of the materials measured into this mix; nested solutions carry their own."""
        return sum((amount * unit_cost(shelf.materials[key]) for key, amount in self.material_amounts()), Fraction(0))


class MaterialUnpriced(EstimateError):
    def __init__(self, material: str) -> None:
        super().__init__("material without a price", material)


def refuse_unpriced(mixes: Iterable[Mix], glasses: Sequence[GlassFacts], shelf: Shelf) -> None:
    """Raise an EstimateError that names every material of some mixes that has no cost, and these glasses, each once."""
    unpriced = {key: shelf.materials[key].name for mix in mixes for key, _ in mix.material_amounts()
                if shelf.materials[key].unit_cost is None}
    unpriced |= {glass.key: glass.name for glass in glasses}
    *names, last = unpriced.values() or [""]
    codes = ",".join(unpriced)
    if names:
        raise EstimateError("materials without a price", f"{', '.join(names)} and {last}", codes=codes)
    if last:
        raise EstimateError("glass without a price" if glasses else "material without a price", last, codes=codes)


def unit_cost(material: MaterialFacts) -> Fraction:
    """Return money per stock unit. Raises MaterialUnpriced."""
    if material.unit_cost is None:
        raise MaterialUnpriced(material.name)
    return material.unit_cost


@dataclass
class _Pending:
    """A mix being gathered, before its solution's turn comes."""

    solution: str
    strength: Fraction
    mixed_for: str
    recipe: str = ""
    step: int | None = None
    load: int | None = None
    pane: str = ""
    parent_mix: int | None = None
    needed_ml: Fraction = Fraction(0)
    charged_ml: dict[str, Fraction] = field(default_factory=lambda: defaultdict(Fraction))
    by_load_ml: dict[int, Fraction] = field(default_factory=lambda: defaultdict(Fraction))

    def add(self, volume_ml: Fraction, shares: dict[str, Fraction], load: int | None) -> None:
        self.needed_ml += volume_ml
        self.by_load_ml[load or 0] += volume_ml
        for recipe, share in shares.items():
            self.charged_ml[recipe] += volume_ml * share


def batch_volumes_ml(needed_ml: Fraction, minimum_ml: Fraction, house: House) -> list[Fraction]:
    """Return the batches of one mix: fewest, equal, rounded up, none below the minimum.

    The vessel is a multiple of the increment; a minimum above it is refused when entered.
    """
    minimum = round_up(minimum_ml, house.increment_ml)
    volume = max(round_up(needed_ml, house.increment_ml), minimum)
    count = (volume / house.largest_vessel_ml).__ceil__()
    return [max(round_up(volume / count, house.increment_ml), minimum)] * count


def check_mixed_for(solution: SolutionFacts, mixed_for: MixedFor) -> None:
    """Refuse a use-at-once mix made for the job, one that works at once made for more than a pane, and one for several
    loads of which nobody said how long it works.
    """
    if mixed_for == "job" and not solution.keeps:
        raise EstimateError("mixed for the job", solution.name)
    if solution.works_at_once and mixed_for != "pane":
        raise EstimateError("works at once", solution.name)
    if mixed_for == "loads" and solution.working_minutes is None:
        raise EstimateError("no working time", solution.name)


def plan_mixes(needs: Sequence[Need], shelf: Shelf, house: House, sharing: Sharing | None = None) -> list[Mix]:
    """Return every mix of the job, parents before what is nested in them.

    sharing: which loads share; without it, all loads of a recipe.
    Raises MixError (too strong, no density), SolutionCycle or EstimateError.
    """
    pending: dict[str, dict[tuple[object, ...], _Pending]] = defaultdict(dict)
    for need in needs:
        check_mixed_for(shelf.solutions[need.solution], need.mixed_for)
        _gather(pending[need.solution], need, sharing or Sharing())
    mixes: list[Mix] = []
    for key in walk_solutions(list(dict.fromkeys(need.solution for need in needs)), shelf):
        for waiting in pending[key].values():
            mix = _make(len(mixes) + 1, waiting, shelf, house)
            mixes.append(mix)
            _add_nested(mix, pending, shelf, sharing or Sharing())
    return mixes


def _for_loads(
    solution: str, strength: Fraction, recipe: str, step: int, load: int, sharing: Sharing
) -> tuple[tuple[object, ...], _Pending]:
    """Return the mix that a load shares with those since the last cut."""
    since = sum(cut <= load for cut in sharing.cuts.get((recipe, step, solution, strength), ()))
    return ("loads", strength, recipe, step, since), _Pending(
        solution=solution, strength=strength, mixed_for="loads", recipe=recipe, step=step, load=load)


def _gather(waiting: dict[tuple[object, ...], _Pending], need: Need, sharing: Sharing) -> None:
    if need.mixed_for == "job":
        identity: tuple[object, ...] = ("job", need.strength)
        fresh = _Pending(solution=need.solution, strength=need.strength, mixed_for="job")
    elif need.mixed_for == "loads":
        identity, fresh = _for_loads(need.solution, need.strength, need.recipe, need.step, need.load, sharing)
    else:
        pane = need.pane.label if need.pane else ""
        identity = (need.mixed_for, need.strength, need.recipe, need.step, need.load, pane)
        fresh = _Pending(
            solution=need.solution, strength=need.strength, mixed_for=need.mixed_for, recipe=need.recipe,
            step=need.step, load=need.load, pane=pane,
        )
    waiting.setdefault(identity, fresh).add(need.volume_ml, {need.recipe: Fraction(1)}, need.load)


def _make(number: int, waiting: _Pending, shelf: Shelf, house: House) -> Mix:
    solution = shelf.solutions[waiting.solution]
    if round_up(solution.minimum_batch_ml, house.increment_ml) > house.largest_vessel_ml:
        raise EstimateError(
            "minimum above the vessel", solution.name, least=decimal_string(solution.minimum_batch_ml, 3),
            vessel=decimal_string(house.largest_vessel_ml, 3),
        )
    volumes = batch_volumes_ml(waiting.needed_ml, solution.minimum_batch_ml, house)
    measured = measure_batch(solution, volumes[0], waiting.strength, shelf)  # the batches are equal
    return Mix(
        number=number, solution=solution, strength=waiting.strength, mixed_for=waiting.mixed_for,
        recipe=waiting.recipe, step=waiting.step, pane=waiting.pane,
        load=min(waiting.by_load_ml) if waiting.mixed_for == "loads" else waiting.load,
        shared=tuple(
            LoadShare(load=load, needed_ml=volume) for load, volume in sorted(waiting.by_load_ml.items())
        ) if waiting.mixed_for == "loads" else (),
        parent_mix=waiting.parent_mix, needed_ml=waiting.needed_ml,
        batches=tuple(
            Batch(number=at, volume_ml=volume, ingredients=measured) for at, volume in enumerate(volumes, start=1)
        ),
        charged={recipe: volume / waiting.needed_ml for recipe, volume in waiting.charged_ml.items()},
    )


def _is_shared(nested: str, load: int, parent: Mix, shelf: Shelf, sharing: Sharing) -> bool:
    at = (parent.recipe, parent.step or 0, nested, Fraction(1))
    return (at, load) not in sharing.apart and shared_for_minutes(shelf.solutions[nested], shelf) is not None


def _add_nested(
    mix: Mix, pending: dict[str, dict[tuple[object, ...], _Pending]], shelf: Shelf, sharing: Sharing
) -> None:
    for batch in mix.batches:
        nested: dict[str, Fraction] = defaultdict(Fraction)
        for measured in batch.ingredients:
            if measured.ingredient.solution is not None:
                nested[measured.ingredient.solution] += measured.amount
        for key, volume in nested.items():
            if volume == 0:
                continue
            if shelf.solutions[key].keeps:
                identity: tuple[object, ...] = ("job", Fraction(1))
                fresh = _Pending(solution=key, strength=Fraction(1), mixed_for="job")
            elif mix.load is not None and _is_shared(key, mix.load, mix, shelf, sharing):
                identity, fresh = _for_loads(key, Fraction(1), mix.recipe, mix.step or 0, mix.load, sharing)
            else:
                identity = ("batch", mix.number, batch.number)
                fresh = _Pending(
                    solution=key, strength=Fraction(1), mixed_for="batch", recipe=mix.recipe, step=mix.step,
                    load=mix.load, pane=mix.pane, parent_mix=mix.number,
                )
            pending[key].setdefault(identity, fresh).add(volume, mix.charged, mix.load)


def amounts_by_material(mixes: Iterable[Mix]) -> dict[str, Fraction]:
    """Return what the whole job takes of each material, in its stock unit."""
    amounts: dict[str, Fraction] = defaultdict(Fraction)
    for mix in mixes:
        for key, amount in mix.material_amounts():
            amounts[key] += amount
    return dict(amounts)


def chemistry_by_recipe(mixes: Iterable[Mix], shelf: Shelf) -> dict[str, Fraction]:
    """Return the cost of chemistry that each recipe version is charged with."""
    return _charged(mixes, lambda mix: mix.cost(shelf))


def mixing_by_recipe(mixes: Iterable[Mix], house: House) -> dict[str, Fraction]:
    """Return the minutes of mixing that each recipe version is charged with."""
    return _charged(mixes, lambda mix: mix.minutes(house))


def _charged(mixes: Iterable[Mix], of: Callable[[Mix], Fraction]) -> dict[str, Fraction]:
    """Share what each mix takes among recipe versions, by what each of them needs of it."""
    totals: dict[str, Fraction] = defaultdict(Fraction)
    for mix in mixes:
        whole = of(mix)
        for recipe, share in mix.charged.items():
            totals[recipe] += whole * share
    return dict(totals)
