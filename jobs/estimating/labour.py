"""Minutes of work, charged to lines, and what they are paid.

Formula: minutes of a step for a load = a + b·panes + d·ΣA_z, and its dwell when attended, once per load, or once per
pane when the step says so or any of its parts is mixed pane by pane; pay = minutes · rate per hour / 60. A_z:
the area it treats of a pane, all of it or its zone. Source: the studio's own times.

Mixing is work of its own: minutes = minutes per batch · batches, for every mix there is, so once per pane where a step
is mixed pane by pane, and for a nested solution that is mixed as a mix of its own. Minutes per batch are the solution
version's, else the studio's for any batch. They are the helper's, attended, exact (nothing is rounded but what is
mixed), and charged like the chemistry: by need to recipe versions, within each by started area n·A to lines. Whoever
counted them in a step's own minutes so far takes them out there, or leaves mixing at none.

Making safe is attended: minutes of such a step, and its dwell, count once per load, wherever the bench order puts it
(`recipes.finishes.bench_rules.in_bench_order`). Loads that are made safe together on the day need less than planned.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from jobs.estimating.basis import Basis, EdgeFacts, House
from jobs.estimating.glass import CUT_HERE
from jobs.estimating.loads import Load
from jobs.estimating.mixes import Mix, mixing_by_recipe
from jobs.estimating.take_off import TakeOff, treated_area_m2
from recipes.facts import RecipeFacts


@dataclass(frozen=True, kw_only=True)
class Minutes:
    """Minutes at each rate."""

    helper: Fraction = Fraction(0)
    owner: Fraction = Fraction(0)

    def __add__(self, other: Minutes) -> Minutes:
        return Minutes(helper=self.helper + other.helper, owner=self.owner + other.owner)

    @property
    def total(self) -> Fraction:
        return self.helper + self.owner

    def pay(self, house: House) -> Fraction:
        return (self.helper * house.helper_per_hour + self.owner * house.owner_per_hour) / 60

    def overhead(self, house: House) -> Fraction:
        return self.total * house.overhead_per_bench_hour / 60


@dataclass(frozen=True, kw_only=True)
class LineLabour:
    """Minutes of one line: the recipe's steps, mixing, cutting and edges, and what happens once (set-up, packing)."""

    steps: Minutes
    cutting_and_edges: Minutes
    once: Minutes
    mixing: Minutes = Minutes()

    @property
    def all(self) -> Minutes:
        return self.bench + self.cutting_and_edges + self.once

    @property
    def bench(self) -> Minutes:
        """Return what a pane that is silvered again takes again: its steps, and its mixes."""
        return self.steps + self.mixing


def step_minutes(
    recipe: RecipeFacts, loads: Sequence[Load], sizes: Sequence[TakeOff], started: Mapping[int, int]
) -> dict[int, Minutes]:
    """Charge a recipe's bench minutes to its lines.

    Load minutes and dwell per load go by started area, area minutes by what is treated of it, per-pane minutes and
    dwell per pane by panes. sizes and started hold this recipe's lines only.
    """
    started_m2 = {size.line.number: size.area_m2 * started[size.line.number] for size in sizes}
    whole_m2 = sum(started_m2.values(), Fraction(0))
    by_line = {number: Minutes() for number in started}
    for step in recipe.steps:
        dwell = step.dwell_minutes if step.attended else Fraction(0)
        dwell_per_pane = dwell if step.dwells_by_pane else Fraction(0)
        per_load = step.minutes_per_load + dwell - dwell_per_pane
        for size in sizes:
            number, panes = size.line.number, started[size.line.number]
            per_pane = step.minutes_per_pane + step.minutes_per_m2 * treated_area_m2(size, step) + dwell_per_pane
            minutes = per_load * len(loads) * started_m2[number] / whole_m2 + per_pane * panes
            by_line[number] += (
                Minutes(owner=minutes) if step.hands == "owner" else Minutes(helper=minutes)
            )
    return by_line


def glass_minutes(size: TakeOff, started: int, edge: EdgeFacts, house: House) -> Minutes:
    """Return cutting (sheet route) and edge minutes of one line's started panes."""
    cutting = house.cutting_minutes_per_pane * started if size.line.route in CUT_HERE else Fraction(0)
    return Minutes(helper=cutting + edge.minutes_per_m * size.perimeter_m * started)


def line_labour(
    basis: Basis, sizes: Sequence[TakeOff], loads: Mapping[str, Sequence[Load]], started: Mapping[int, int],
    mixes: Sequence[Mix],
) -> dict[int, LineLabour]:
    """Return the labour of every line; job set-up is shared by started area over all lines."""
    started_m2 = {size.line.number: size.area_m2 * started[size.line.number] for size in sizes}
    whole_m2 = sum(started_m2.values(), Fraction(0))
    steps: dict[int, Minutes] = {}
    mixing: dict[int, Minutes] = {}
    mixed = mixing_by_recipe(mixes, basis.house)
    for recipe in basis.line_recipes():
        numbers = [line.number for line in basis.lines_of(recipe.key)]
        steps |= step_minutes(
            recipe, loads[recipe.key], [size for size in sizes if size.line.number in numbers],
            {n: started[n] for n in numbers},
        )
        of_recipe = mixed.get(recipe.key, Fraction(0)) / sum((started_m2[n] for n in numbers), Fraction(0))
        mixing |= {n: Minutes(helper=of_recipe * started_m2[n]) for n in numbers}
    house = basis.house
    return {
        size.line.number: LineLabour(
            steps=steps[size.line.number], mixing=mixing[size.line.number],
            cutting_and_edges=glass_minutes(
                size, started[size.line.number], basis.edges[size.line.edge], house
            ),
            once=Minutes(helper=house.setup_minutes * started_m2[size.line.number] / whole_m2
                         + house.packing_minutes_per_pane * size.line.quantity),
        )
        for size in sizes
    }
