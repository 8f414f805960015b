"""What a step applies to a pane and to a load, in mL. Pure.

V_load = (1 + o)·v·c·ΣW + e·panes + f, and V_pane = (1 + o)·v·c·W + e; a part's volume is its share of that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from recipes.facts import SPRAYED, PartFacts, Shelf, StepFacts
from recipes.finishes.zones import inside_rim_mm
from recipes.solutions.bench_card import BenchCard, bench_card
from studio.kit.errors import DaybookError
from studio.kit.rounding import round_up

MM2_PER_M2 = 1_000_000


def pane_volume_ml(step: StepFacts, wetted_m2: Fraction) -> Fraction:
    """Return V_pane without the load's loss."""
    covered = (1 + step.overspill_share) * step.coverage_ml_per_m2 * step.coats * wetted_m2
    return covered + step.extra_per_pane_ml


def load_volume_ml(step: StepFacts, wetted_m2: Sequence[Fraction]) -> Fraction:
    return sum((pane_volume_ml(step, area) for area in wetted_m2), Fraction(0)) + step.loss_per_load_ml


@dataclass(frozen=True, kw_only=True)
class SampleLoad:
    """A number of rectangular panes of one size, on the bench at once."""

    panes: int
    width_mm: Fraction
    height_mm: Fraction

    def wetted_m2(self, step: StepFacts) -> Fraction:
        """Return what a step wets of the zone of one pane: with the overspray where it is sprayed or misted."""
        beyond = step.overspray_mm if step.how in SPRAYED else Fraction(0)
        whole = (self.width_mm + 2 * beyond) * (self.height_mm + 2 * beyond)
        if step.zone == "part":
            whole *= step.zone_share
        inside = inside_rim_mm(step, self.width_mm, self.height_mm)
        return (whole - inside[0] * inside[1] if inside else whole) / MM2_PER_M2

    @property
    def area_m2(self) -> Fraction:
        return self.panes * self.width_mm * self.height_mm / MM2_PER_M2


@dataclass(frozen=True, kw_only=True)
class PartMix:
    """One part of a step mixed for a load: what is needed and what is measured, or why it cannot be mixed.

    times: how often it is mixed (once, or pane by pane); needed_ml and the card are for one of them.
    """

    part: PartFacts
    needed_ml: Fraction
    times: int
    card: BenchCard | None
    refusal: str = ""


def mixes_for_load(
    step: StepFacts, load: SampleLoad, shelf: Shelf, increment_ml: Fraction, balance_readability_g: Fraction
) -> tuple[PartMix, ...]:
    """Return the mixes of a step for one load, rounded up to what is measured and to the minimum batch.

    A mix for the whole job is shown for the one load.
    """
    whole = sum((part.parts for part in step.parts), Fraction(0))
    wetted = load.wetted_m2(step)
    mixes = []
    for part in step.parts:
        by_pane = part.mixed_for == "pane"
        volume = (pane_volume_ml(step, wetted) + step.loss_per_load_ml if by_pane
                  else load_volume_ml(step, [wetted] * load.panes))
        needed = volume * part.parts / whole
        solution = shelf.solutions[part.solution]
        batch = round_up(max(needed, solution.minimum_batch_ml), increment_ml)
        card, refusal = None, ""
        if needed > 0:
            try:
                card = bench_card(part.solution, batch, part.strength, shelf, balance_readability_g)
            except DaybookError as refused:
                refusal = str(refused)
        mixes.append(PartMix(part=part, needed_ml=needed, times=load.panes if by_pane else 1, card=card,
                             refusal=refusal))
    return tuple(mixes)
