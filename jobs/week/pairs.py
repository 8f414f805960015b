"""Mixes of two jobs that could be one: the same solution at the same strength, one vesselful. Pure: no Django."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from jobs.calendar.asked import CalendarAsked, MixAsked, MixUse
from jobs.estimating.estimate import Estimate
from jobs.estimating.mixes import Mix, batch_volumes_ml


@dataclass(frozen=True, kw_only=True)
class Shareable:
    """A mix for one load that is still to make, as its job's estimate has it."""

    mix: Mix
    estimate: Estimate

    @property
    def silver_g(self) -> Fraction:
        materials = self.estimate.basis.shelf.materials
        amounts = self.mix.material_amounts()
        return sum((amount * materials[key].silver_g_per_unit for key, amount in amounts), Fraction(0))


@dataclass(frozen=True, kw_only=True)
class Pair:
    """Two mixes as one. volume_ml: of the one; shares: of it what each takes, by need. The rest is what is saved."""

    one: str
    other: str
    called: str
    volume_ml: Fraction
    shares: tuple[Fraction, Fraction]
    most_ml: int
    minutes_saved: Fraction
    ml_saved: Fraction
    silver_saved_g: Fraction

    @property
    def saves(self) -> str:
        return saving_in_words(self.minutes_saved, self.ml_saved, self.silver_saved_g)


def saving_in_words(minutes: Fraction, volume_ml: Fraction, silver_g: Fraction) -> str:
    """Return “25 min, 310 mL, 0.9 g silver”: what of it is nothing is not said."""
    said = [f"{round(minutes)} min"] if minutes >= 1 else []
    said += [f"{round(volume_ml)} mL"] if volume_ml >= 1 else []
    said += [f"{float(silver_g):.2g} g silver"] if silver_g >= Fraction(1, 100) else []
    return ", ".join(said)


def shareable_of(job: str, estimate: Estimate, keys: Sequence[str]) -> dict[str, Shareable]:
    """Return the mixes of a job that another's load could share, by name: for one load, in one batch, none nested."""
    nested = {mix.parent_mix for mix in estimate.mixes}
    return {
        name: Shareable(mix=mix, estimate=estimate) for mix in estimate.mixes
        if (name := f"{job}.m{mix.number}") in keys and len(mix.shared) <= 1 and len(mix.batches) == 1
        and mix.number not in nested and not mix.solution.works_at_once
    }


def pair_of(one: str, other: str, known: Mapping[str, Shareable]) -> Pair | None:
    """Return two mixes as one, with what it saves; None where they are not alike, too much together, or save nothing.
    """
    if one not in known or other not in known:
        return None
    first, second = known[one], known[other]
    mix, like, house = first.mix, second.mix, first.estimate.basis.house
    if mix.shared_key != like.shared_key or mix.solution != like.solution:
        return None
    needed = mix.needed_ml + like.needed_ml
    volumes = batch_volumes_ml(needed, mix.solution.minimum_batch_ml, house)
    minutes = mix.minutes(house), like.minutes(second.estimate.basis.house)
    if len(volumes) != 1 or not needed:
        return None
    saved = mix.made_ml + like.made_ml - volumes[0]
    silver = (first.silver_g / mix.made_ml * saved) if mix.made_ml else Fraction(0)
    pair = Pair(
        one=one, other=other, called=mix.solution.name, volume_ml=volumes[0], most_ml=int(house.largest_vessel_ml),
        shares=(volumes[0] * mix.needed_ml / needed, volumes[0] * like.needed_ml / needed),
        minutes_saved=min(minutes), ml_saved=saved, silver_saved_g=silver,
    )
    return pair if pair.saves else None


def shared_in(asked: CalendarAsked, pairs: Sequence[Pair]) -> CalendarAsked:
    """Return what is asked with each pair as one mix, which the plan may make once for both."""
    for pair in pairs:
        mixes = {mix.key: mix for mix in asked.mixes}
        if pair.one not in mixes or pair.other not in mixes:
            continue
        one, other = mixes[pair.one], mixes[pair.other]
        within = [minutes for minutes in (one.safe_within_minutes, other.safe_within_minutes) if minutes is not None]
        both = replace(
            one, minutes=max(one.minutes, other.minutes), keeps_minutes=min(one.keeps_minutes, other.keeps_minutes),
            most_ml=max(pair.most_ml, one.most_ml, other.most_ml), shared="jobs",
            safe_within_minutes=min(within, default=None),
        )
        asked = replace(
            asked, mixes=tuple(_in_place(mix, pair, both) for mix in asked.mixes if mix.key != pair.other),
            loads=tuple(replace(load, stretches=tuple(
                replace(stretch, mixes=tuple(_use(use, pair) for use in stretch.mixes)) for stretch in load.stretches
            )) for load in asked.loads),
        )
    return asked


def _in_place(mix: MixAsked, pair: Pair, both: MixAsked) -> MixAsked:
    return both if mix.key == pair.one else mix


def _use(use: MixUse, pair: Pair) -> MixUse:
    if use.key not in (pair.one, pair.other):
        return use
    share = pair.shares[0] if use.key == pair.one else pair.shares[1]
    return replace(use, key=pair.one, ml=max(int(-(-share // 1)), 1))
