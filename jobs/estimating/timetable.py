"""When each load starts, so that no pair of hands is needed twice at once and no dwell runs over that must not.

A load goes through *stretches*: steps that follow each other at once, because the glass between them is
wet and a dwell must not run over. A stretch ends with a step that dries the pane, or inspects it: after
that the load may wait. In a stretch everything is fixed but its start. Hands and benches are limited:
a step's work, and an attended dwell, needs one pair of hands; a stretch needs a bench from its first
minute to its last; what dries stands in a rack. Job set-up, cutting and packing happen outside.

Mixing is work of hands (`Mix.minutes`), before the step that uses the mix. What is mixed for the job comes first: one
pair of hands mixes it, one mix after the other, and the loads begin after it. What is mixed for a load is mixed before
its step, but wet glass never waits for it: where a dwell, or a step that puts on what works on the glass, stands
between in the same stretch, it is mixed before that. What is mixed pane by pane is mixed in its step, once per pane.
What loads share is mixed with the first of them. Loads that share, or might with more time, use such mixes one after
the other: none before the load before it.

Making safe stands straight after the last silver rinse of each load (`bench_rules.in_bench_order`) and waits for
nothing: where the step before it leaves the pane to dry, it is done while the pane dries, and the bench stays taken
until it is over.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from math import lcm

from jobs.estimating.basis import House
from jobs.estimating.loads import Load
from jobs.estimating.mixes import Mix
from jobs.estimating.scheduling import BENCH, HANDS, After, Stretch, Task, scheduled
from recipes.facts import RecipeFacts, StepFacts
from recipes.finishes.hand_order import may_wait_after, mixed_before
from recipes.step_kinds import kind_of


@dataclass(frozen=True, kw_only=True)
class StepTime:
    """One step of one load: minutes from the start of the work on the bench.

    work_minutes: hands at work. mixing_minutes: how many of them are mixing. only_mixing: it is not the step itself
    that is timed here, but the mixing for it. dwell_each_minutes: a pane's share of a dwell that nobody stays with and
    that is counted for each pane; 0 where it is counted for the load.
    """

    step: int
    name: str
    starts: Fraction
    work_minutes: Fraction
    dwell_minutes: Fraction
    attended: bool
    may_wait: bool
    mixing_minutes: Fraction = Fraction(0)
    only_mixing: bool = False
    dwell_each_minutes: Fraction = Fraction(0)

    @property
    def ends(self) -> Fraction:
        return self.starts + self.work_minutes + self.dwell_minutes


@dataclass(frozen=True, kw_only=True)
class LoadTime:
    recipe: str
    load: int
    steps: tuple[StepTime, ...]

    @property
    def starts(self) -> Fraction:
        return self.steps[0].starts

    @property
    def ends(self) -> Fraction:
        return max(step.ends for step in self.steps)


@dataclass(frozen=True, kw_only=True)
class Timetable:
    """Every load's steps in time. labour_minutes: hands at work; idle: hands there with nothing to do.

    job_mixing_minutes: what is mixed for the job, from the first minute on, before the loads. bound_minutes: what no
    timetable is over before; nothing on a ticket of before it was known.
    """

    hands: int
    benches: int
    loads: tuple[LoadTime, ...]
    finish_minutes: Fraction
    labour_minutes: Fraction
    proved: bool
    job_mixing_minutes: Fraction = Fraction(0)
    bound_minutes: Fraction | None = None

    @property
    def idle_minutes(self) -> Fraction:
        return self.hands * self.finish_minutes - self.labour_minutes


def work_and_dwell(step: StepFacts, load: Load) -> tuple[Fraction, Fraction]:
    """Return minutes in which hands are needed (an attended dwell among them), and minutes of unattended dwell."""
    panes = len(load.panes)
    work = step.minutes_per_load + step.minutes_per_pane * panes + step.minutes_per_m2 * load.treated_m2(step)
    dwell = step.all_dwell_minutes(panes)
    return (work + dwell, Fraction(0)) if step.attended else (work, dwell)


#: A step of a load: recipe, load and step.
Place = tuple[str, int, int]


@dataclass(frozen=True, kw_only=True)
class Mixing:
    """Minutes of mixing: for the job, for a step of a load, and pane by pane within one; and what loads share."""

    for_job: Fraction = Fraction(0)
    for_load: Mapping[Place, Fraction] = field(default_factory=dict)
    by_pane: Mapping[Place, Fraction] = field(default_factory=dict)
    #: of a step for which loads share mixes, two loads that take of them one after the other: recipe, step, loads
    in_turn: frozenset[tuple[str, int, int, int]] = frozenset()

    def is_mixed_for(self, recipe: str, step: int) -> bool:
        """Say whether any load of a recipe waits for a mix of its own before a step."""
        return any((recipe, step) == (place[0], place[2]) for place, minutes in self.for_load.items() if minutes)


def mixing_of(mixes: Sequence[Mix], house: House) -> Mixing:
    """Return when the mixes of a job are mixed; a nested one when that is which it goes into."""
    for_job = Fraction(0)
    for_load: dict[Place, Fraction] = defaultdict(Fraction)
    by_pane: dict[Place, Fraction] = defaultdict(Fraction)
    for mix in mixes:
        if mix.load is None or mix.step is None:
            for_job += mix.minutes(house)
        else:
            (by_pane if mix.pane else for_load)[mix.recipe, mix.load, mix.step] += mix.minutes(house)
    loads: dict[tuple[str, int, str, Fraction], list[int]] = defaultdict(list)
    for mix in mixes:
        loads[mix.shared_key] += [share.load for share in mix.shared]
    in_turn = frozenset(
        (recipe, step, one, other) for (recipe, step, _, _), mine in loads.items()
        for one, other in pairwise(sorted(set(mine)))
    )
    return Mixing(for_job=for_job, for_load=for_load, by_pane=by_pane, in_turn=in_turn)


@dataclass(frozen=True, kw_only=True)
class _Entry:
    """What a load goes through: a step, or the mixing for one. waits: the load may wait after it; closes: a stretch."""

    step: StepFacts
    work: Fraction
    dwell: Fraction = Fraction(0)
    mixing: Fraction = Fraction(0)
    only_mixing: bool = False
    waits: bool = False
    closes: bool = False

    @property
    def dwell_each(self) -> Fraction:
        return self.step.dwell_minutes if self.dwell and self.step.dwells_by_pane else Fraction(0)

    @property
    def name(self) -> str:
        name = self.step.name or self.step.kind
        return f"mixing for {name}" if self.only_mixing else name


def timetable(
    recipes: Sequence[RecipeFacts], loads: Mapping[str, Sequence[Load]], hands: int = 1, benches: int = 1,
    mixing: Mixing | None = None,
) -> Timetable:
    """Return the timetable of a job's loads with so many pairs of hands and benches. Steps in the order of the bench.

    mixing: what is mixed when; None: nothing takes time.
    """
    mixing = mixing or Mixing()
    chains = [
        (load, _entries(recipe, load, mixing)) for recipe in recipes for load in loads[recipe.key] if recipe.steps
    ]
    unit = lcm(*(
        value.denominator for _, entries in chains for entry in entries for value in (entry.work, entry.dwell)
    ))
    stretches: list[Stretch] = []
    places: list[list[tuple[int, int]]] = []  # per chain and entry: its stretch, and its offset there
    for number, (_, entries) in enumerate(chains):
        places.append(_stretches(number, entries, unit, stretches))
    where = {
        (load.recipe, load.number, entry.step.number): place
        for (load, entries), mine in zip(chains, places, strict=True)
        for entry, place in zip(entries, mine, strict=True) if not entry.only_mixing
    }
    found = scheduled(tuple(stretches), hands, benches, _in_turn(mixing, where))
    timed = []
    for number, (load, entries) in enumerate(chains):
        steps = tuple(
            StepTime(
                step=entry.step.number, name=entry.name,
                starts=mixing.for_job + Fraction(found.at[stretch] + offset, unit), work_minutes=entry.work,
                dwell_minutes=entry.dwell, attended=entry.step.attended and not entry.only_mixing,
                may_wait=entry.waits, mixing_minutes=entry.mixing, only_mixing=entry.only_mixing,
                dwell_each_minutes=entry.dwell_each,
            )
            for entry, (stretch, offset) in zip(entries, places[number], strict=True)
        )
        timed.append(LoadTime(recipe=load.recipe, load=load.number, steps=steps))
    labour = sum((entry.work for _, entries in chains for entry in entries), mixing.for_job)
    return Timetable(
        hands=hands, benches=benches, loads=tuple(timed),
        finish_minutes=mixing.for_job + Fraction(found.over, unit), labour_minutes=labour, proved=found.proved,
        bound_minutes=mixing.for_job + Fraction(found.bound, unit),
        job_mixing_minutes=mixing.for_job,
    )


def _in_turn(mixing: Mixing, where: Mapping[tuple[str, int, int], tuple[int, int]]) -> tuple[After, ...]:
    """Return that no load uses what is shared before the load before it. where: each step's stretch, and offset."""
    found: list[After] = []
    for recipe, step, one, other in sorted(mixing.in_turn):
        (first, first_offset), (second, second_offset) = where[recipe, one, step], where[recipe, other, step]
        found.append((first, second, first_offset - second_offset))
    return tuple(found)


def _entries(recipe: RecipeFacts, load: Load, mixing: Mixing) -> list[_Entry]:
    """Return what a load goes through, in order: every step, and its mixing where wet glass does not wait for it."""
    mixes: dict[int, list[_Entry]] = defaultdict(list)
    for step, before in zip(recipe.steps, mixed_before(recipe.steps), strict=True):
        if mixing.is_mixed_for(recipe.key, step.number):
            minutes = mixing.for_load.get((recipe.key, load.number, step.number), Fraction(0))
            mixes[before].append(_Entry(step=step, work=minutes, mixing=minutes, only_mixing=True))
    found: list[_Entry] = []
    waits = False
    for at, step in enumerate(recipe.steps):
        work, dwell = work_and_dwell(step, load)
        by_pane = mixing.by_pane.get((recipe.key, load.number, step.number), Fraction(0))
        waits = may_wait_after(step) or (waits and _makes_safe(step))
        closes = waits and not (at + 1 < len(recipe.steps) and _makes_safe(recipe.steps[at + 1]))
        found += mixes[at]
        found.append(_Entry(step=step, work=work + by_pane, dwell=dwell, mixing=by_pane, waits=waits, closes=closes))
    return found


def _makes_safe(step: StepFacts) -> bool:
    return kind_of(step.kind).makes_safe


def _stretches(chain: int, entries: Sequence[_Entry], unit: int, stretches: list[Stretch]) -> list[tuple[int, int]]:
    """Add a load's stretches; return where each of its entries lies."""
    places: list[tuple[int, int]] = []
    tasks: list[Task] = []
    offset, dry = 0, 0  # dry: when what dries in the stretch is dry
    on_bench: int | None = None
    for at, entry in enumerate(entries):
        places.append((len(stretches), offset))
        if on_bench is None and not entry.only_mixing:
            on_bench = offset
        minutes, still = int(entry.work * unit), int(entry.dwell * unit)
        if minutes:
            tasks.append(Task(HANDS, offset, minutes))
        offset += minutes
        last = at + 1 == len(entries)
        if entry.waits or last:
            dry = max(dry, offset + still)
        else:
            offset += still
        if entry.closes or last:
            if on_bench is not None and offset > on_bench:
                tasks.append(Task(BENCH, on_bench, offset - on_bench))
            stretches.append(Stretch(chain, offset, max(dry - offset, 0), tuple(tasks)))
            tasks, offset, dry, on_bench = [], 0, 0, None
    return places
