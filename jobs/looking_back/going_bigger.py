"""Before a version is used beyond what it was ever made at: what is predicted there, and what was never tried. Pure.

Volumes, vessels and minutes follow from the arithmetic; ridges, drying lines and edge effects of a sample do not.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from jobs.estimating.estimate import Estimate, in_order_of_the_bench
from jobs.estimating.price_contents import clock_minutes
from jobs.estimating.sharing import UseOfMixes
from jobs.estimating.take_off import treated_area_m2
from recipes.facts import StepFacts
from recipes.solutions.rules import shared_for_minutes
from studio.kit.rounding import decimal_string, half_up, square_root
from studio.kit.typed_values import show_time

#: a shift, for what is used at once (common practice, no source)
SHIFT_MINUTES = Fraction(480)
#: a pane more than this many times the largest one made well is approached in between (common practice, no source)
STEP_AT_MOST = Fraction(2)


@dataclass(frozen=True, kw_only=True)
class MadeSoFar:
    """The most that was made well: of the version, or of its finish. Trials stand apart."""

    largest_m2: Fraction = Fraction(0)
    largest_size: str = ""
    most_panes: int = 0
    heaviest_kg: Fraction = Fraction(0)
    largest_trial_m2: Fraction = Fraction(0)
    largest_mix_ml: Fraction = Fraction(0)


@dataclass(frozen=True, kw_only=True)
class MixPredicted:
    """One solution at the size asked: its largest batch, its vessels, and the time to use it against its keeping."""

    name: str
    mixed_for: str
    batches: int
    batch_ml: Fraction
    works_for: Fraction
    takes: Fraction

    @property
    def too_slow(self) -> bool:
        return self.takes > self.works_for

    @property
    def served(self) -> str:
        """Return what it is mixed for, in words."""
        more = {"job": "the whole job", "loads": "as many loads as it works for"}
        return more.get(self.mixed_for, f"each {self.mixed_for}")


@dataclass(frozen=True, kw_only=True)
class Prediction:
    """What is predicted at a size, what was never tried, and a trial size in between."""

    pane_kg: Fraction
    lifting_limit_kg: Fraction
    area_m2: Fraction
    panes: int
    loads: int
    clock: Fraction
    labour: Fraction
    mixes: tuple[MixPredicted, ...]
    never_tried: tuple[str, ...]
    between: tuple[tuple[Fraction, Fraction], ...]

    @property
    def two_carry(self) -> bool:
        """Say whether a pane weighs more than the owner lets one person lift; a limit of 0 is none."""
        return 0 < self.lifting_limit_kg < self.pane_kg


def predict(estimate: Estimate, so_far: MadeSoFar, preference: str = "metric") -> Prediction:
    """Return what an estimate of one line predicts beyond what was made so far."""
    size, line = estimate.sizes[0], estimate.basis.lines[0]
    recipe = estimate.basis.recipes[line.recipe]
    mixes = _mixes(estimate)
    return Prediction(
        pane_kg=size.pane_kg, lifting_limit_kg=estimate.basis.house.two_person_kg, area_m2=size.area_m2,
        panes=line.quantity, loads=len(estimate.loads[recipe.key]),
        clock=clock_minutes(estimate), labour=estimate.minutes, mixes=mixes,
        never_tried=tuple(_never_tried(estimate, so_far, mixes)),
        between=between(line.width_mm, line.height_mm, max(so_far.largest_m2, so_far.largest_trial_m2), preference),
    )


def _minutes(step: StepFacts, panes: int, area_m2: Fraction) -> Fraction:
    work = step.minutes_per_load + step.minutes_per_pane * panes + step.minutes_per_m2 * area_m2
    return work + step.all_dwell_minutes(panes)


def _mixes(estimate: Estimate) -> tuple[MixPredicted, ...]:
    """Return the largest mix of each solution with the time it takes to use it up on what it is mixed for."""
    steps = {(recipe.key, step.number): step for recipe in estimate.basis.line_recipes() for step in recipe.steps}
    loads = {(load.recipe, load.number): load for all_ in estimate.loads.values() for load in all_}
    use = UseOfMixes(estimate.timetable, in_order_of_the_bench(estimate.basis)) if any(
        mix.shared for mix in estimate.mixes) else None
    found: dict[str, MixPredicted] = {}
    for mix in estimate.mixes:
        step = steps.get((mix.recipe, mix.step or 0))
        if mix.mixed_for == "job" or step is None:
            takes = clock_minutes(estimate)
        elif mix.mixed_for == "pane":
            takes = _minutes(step, 1, treated_area_m2(estimate.sizes[0], step)) - step.minutes_per_load
        elif mix.shared and use is not None:
            first, last = mix.shared[0].load, mix.shared[-1].load
            takes = use.ends(mix, last) - use.begins(mix, first, estimate.basis.house)
        else:
            load = loads[mix.recipe, mix.load or 1]
            takes = _minutes(step, len(load.panes), load.treated_m2(step))
        candidate = MixPredicted(
            name=mix.solution.name, mixed_for=mix.mixed_for, batches=len(mix.batches),
            batch_ml=mix.batches[0].volume_ml, takes=takes,
            works_for=(shared_for_minutes(mix.solution, estimate.basis.shelf) if mix.shared else None)
            or mix.solution.keeps_minutes or SHIFT_MINUTES,
        )
        known = found.get(candidate.name)
        if known is None or candidate.batch_ml * candidate.batches > known.batch_ml * known.batches:
            found[candidate.name] = candidate
    return tuple(found.values())


def _never_tried(estimate: Estimate, so_far: MadeSoFar, mixes: tuple[MixPredicted, ...]) -> list[str]:
    size, panes = estimate.sizes[0], estimate.basis.lines[0].quantity
    if so_far.largest_m2 == 0:
        found = ["No run of it has finished yet: only samples show how it comes out."]
    else:
        found = []
        if size.area_m2 > so_far.largest_m2:
            times = decimal_string(size.area_m2 / so_far.largest_m2, 1)
            found.append(
                f"A pane of {decimal_string(size.area_m2, 3)} m²: the largest made well is {so_far.largest_size}, "
                f"{decimal_string(so_far.largest_m2, 3)} m²; this is {times} times that."
            )
        if panes > so_far.most_panes:
            found.append(f"{panes} pane{'' if panes == 1 else 's'} in one job: at most {so_far.most_panes} came out "
                         "well in one run so far.")
        if size.pane_kg > so_far.heaviest_kg > 0:
            found.append(f"A pane of {decimal_string(size.pane_kg, 1)} kg: the heaviest so far was "
                         f"{decimal_string(so_far.heaviest_kg, 1)} kg.")
    largest = max((mix.batch_ml for mix in mixes if mix.mixed_for != "job"), default=Fraction(0))
    if so_far.largest_mix_ml and largest > so_far.largest_mix_ml:
        found.append(f"A mix of {decimal_string(largest, 0)} mL in one vessel: the largest measured so far was "
                     f"{decimal_string(so_far.largest_mix_ml, 0)} mL.")
    found += [
        f"{mix.name} is good for {show_time(mix.works_for)}, and using it takes "
        f"{show_time(half_up(mix.takes, Fraction(1)))}."
        for mix in mixes if mix.too_slow
    ]
    return found


def between(
    width_mm: Fraction, height_mm: Fraction, largest_m2: Fraction, preference: str = "metric"
) -> tuple[tuple[Fraction, Fraction], ...]:
    """Return trial sizes between the largest made and the one asked, of its proportions, each at most twice the last.

    Sides are rounded to 10 mm, or half an inch.
    """
    asked = width_mm * height_mm / 1_000_000
    if largest_m2 <= 0 or asked <= largest_m2 * STEP_AT_MOST:
        return ()
    steps = 1
    while largest_m2 * STEP_AT_MOST ** (steps + 1) < asked:
        steps += 1
    ratio = asked / largest_m2
    grid = Fraction(10) if preference == "metric" else Fraction(127, 10)
    sizes = []
    for at in range(1, steps + 1):
        area = largest_m2 * Fraction(str(round(float(ratio) ** (at / (steps + 1)), 6)))
        scale = square_root(area / asked)
        sizes.append((half_up(width_mm * scale, grid), half_up(height_mm * scale, grid)))
    return tuple(sizes)


