"""What each step applies to each pane and load, in mL.

Formula: V_load = (1 + o)·v·c·ΣW + e·panes + f, and V_pane = (1 + o)·v·c·W + e, with f added
to the first pane placed in the load; a part's volume is its share of that. o: overspill share, v: coverage in mL/m²,
c: coats, W: wetted area in m², of the step's zone, e: extra per pane, f: loss per load. Source: the studio's own
calibration.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from jobs.estimating.loads import Load, Pane
from jobs.estimating.take_off import wetted_area_m2
from recipes.facts import MixedFor, RecipeFacts, StepFacts
from recipes.finishes.volumes import load_volume_ml, pane_volume_ml


@dataclass(frozen=True, kw_only=True)
class Need:
    """What one part of one step needs for one pane, load or (summed later) the job."""

    recipe: str
    step: int
    load: int
    pane: Pane | None
    solution: str
    strength: Fraction
    mixed_for: MixedFor
    volume_ml: Fraction


@dataclass(frozen=True, kw_only=True)
class Applied:
    """What a whole step applies to one load."""

    recipe: str
    step: int
    load: int
    wetted_m2: Fraction
    volume_ml: Fraction


def applied_volumes(recipe: RecipeFacts, loads: Sequence[Load]) -> tuple[list[Applied], list[Need]]:
    """Return what every step applies to every load, and what each of its parts therefore needs."""
    applied, needs = [], []
    for step in recipe.steps:
        if not step.parts:
            continue
        for load in loads:
            wetted = [wetted_area_m2(pane.size, step) for pane in load.panes]
            volume = load_volume_ml(step, wetted)
            applied.append(Applied(
                recipe=recipe.key, step=step.number, load=load.number, wetted_m2=sum(wetted, Fraction(0)),
                volume_ml=volume,
            ))
            needs += _needs_of(recipe.key, step, load, wetted, volume)
    return applied, needs


def _needs_of(
    recipe: str, step: StepFacts, load: Load, wetted: Sequence[Fraction], load_volume: Fraction
) -> list[Need]:
    all_parts = sum((part.parts for part in step.parts), Fraction(0))
    shares: dict[tuple[str, Fraction, MixedFor], Fraction] = {}
    for part in step.parts:  # parts alike in solution, strength and purpose are one
        alike = (part.solution, part.strength, part.mixed_for)
        shares[alike] = shares.get(alike, Fraction(0)) + part.parts / all_parts
    needs = []
    for (solution, strength, mixed_for), share in shares.items():
        if mixed_for == "pane":
            portions: list[tuple[Pane | None, Fraction]] = [
                (pane, pane_volume_ml(step, area) + (step.loss_per_load_ml if first == 0 else 0))
                for first, (pane, area) in enumerate(zip(load.panes, wetted, strict=True))
            ]
        else:
            portions = [(None, load_volume)]
        needs += [
            Need(recipe=recipe, step=step.number, load=load.number, pane=pane, solution=solution,
                 strength=strength, mixed_for=mixed_for, volume_ml=share * volume)
            for pane, volume in portions if volume * share > 0
        ]
    return needs
