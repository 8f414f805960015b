"""How many panes to start so that enough come out good.

Formula: the fewest n with P(Binomial(n, y) ≥ ordered) ≥ the chance wanted; y = (good + 9) / (started + 10) over the
finish's runs, or the owner's own. Source: negative binomial distribution, any statistical handbook; the 9 of 10 that
history is added to is the studio's rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import comb

from jobs.estimating.basis import House, LineFacts, Plan
from jobs.estimating.refusals import EstimateError
from recipes.facts import RecipeFacts, SizeBand
from studio.kit.rounding import decimal_string


class YieldTooLow(EstimateError, ValueError):
    def __init__(self, good_wanted: int, yield_share: Fraction, line: int = 0) -> None:
        super().__init__(
            "yield too low", line=line, percent=decimal_string(yield_share * 100, 1), wanted=str(good_wanted)
        )
        self.good_wanted, self.yield_share = good_wanted, yield_share


@dataclass(frozen=True, kw_only=True)
class PanesPlanned:
    """The spoilage plan of one line. chance_met is that of enough good panes in one go."""

    plan: Plan
    yield_share: Fraction
    panes_to_start: int
    chance_met: Fraction
    good: int
    started: int
    own_yield: bool
    band: SizeBand | None = None


#: A band of sizes counts by itself from so many started panes on; below that all sizes count together.
ENOUGH_IN_A_BAND = 20


def most_panes(good_wanted: int) -> int:
    """Return the most panes that may be started for so many good ones."""
    return 10 * good_wanted + 20


def band_of(recipe: RecipeFacts, area_m2: Fraction | None) -> SizeBand | None:
    """Return the band of sizes that tells enough of panes of this area by itself; None: all sizes count together."""
    if recipe.own_yield is not None or area_m2 is None:
        return None
    return next((band for band in recipe.bands if band.holds(area_m2) and band.started >= ENOUGH_IN_A_BAND), None)


def yield_share(recipe: RecipeFacts, band: SizeBand | None = None) -> Fraction:
    """Return the owner's own yield, or (good + 9) / (started + 10) over the finish's runs: 0.90 with no history.

    band: its counts are taken instead, where one tells enough by itself.
    """
    if recipe.own_yield is not None:
        return recipe.own_yield
    good, started = (band.good, band.started) if band else (recipe.good, recipe.started)
    return Fraction(good + 9, started + 10)


def chance_of_enough(good_wanted: int, started: int, share: Fraction) -> Fraction:
    """Return P(Binomial(started, share) ≥ good_wanted), exactly."""
    missing = sum(
        (comb(started, good) * share**good * (1 - share) ** (started - good) for good in range(good_wanted)),
        Fraction(0),
    )
    return 1 - missing


def panes_to_start(good_wanted: int, share: Fraction, cover: Fraction) -> int:
    """Return the fewest panes to start so that enough of them come out good.

    good_wanted: panes ordered, 1 or more. share: of started panes that come out good, over 0 and up to 1.
    cover: chance wanted that good_wanted or more are good, from 0 to below 1.
    Raises YieldTooLow when 10 panes for each one ordered, and 20 more, still fall short.
    Source: negative binomial distribution, any statistical handbook.
    """
    chance = Fraction(0)
    for started in range(good_wanted, most_panes(good_wanted) + 1):
        ways_to_finish_now = comb(started - 1, good_wanted - 1)
        chance += ways_to_finish_now * share**good_wanted * (1 - share) ** (started - good_wanted)
        if chance >= cover:
            return started
    raise YieldTooLow(good_wanted, share)


def plan_panes(
    line: LineFacts, recipe: RecipeFacts, house: House, area_m2: Fraction | None = None
) -> PanesPlanned:
    """Return the spoilage plan of a line. Raises YieldTooLow, or EstimateError for an own number out of range.

    area_m2: of one pane; its band of sizes counts alone once it has runs enough.
    """
    band = band_of(recipe, area_m2)
    share, plan, wanted = yield_share(recipe, band), line.plan or house.plan, line.quantity
    if not 0 < share <= 1:
        raise EstimateError("yield out of range", recipe.finish)
    if plan == "rework":
        started = wanted
    elif line.own_panes_to_start is not None:
        started = line.own_panes_to_start
        if not wanted <= started <= most_panes(wanted):
            raise EstimateError(
                "panes to start out of range", line.name, line.number, fewest=str(wanted), most=str(most_panes(wanted))
            )
    else:
        try:
            started = panes_to_start(wanted, share, house.cover_share)
        except YieldTooLow as refusal:
            raise YieldTooLow(wanted, share, line.number) from refusal
    return PanesPlanned(
        plan=plan, yield_share=share, panes_to_start=started,
        chance_met=chance_of_enough(wanted, started, share),
        good=band.good if band else recipe.good, started=band.started if band else recipe.started,
        own_yield=recipe.own_yield is not None, band=band,
    )
