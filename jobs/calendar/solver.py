"""Improving a plan with CP-SAT: whole up to ten jobs, else windows of a few jobs near each other, the rest fixed.

Begun from the plan that stands as a complete hint; what it finds is taken only if it is no worse. One worker, a fixed
seed and a limit of deterministic work: the same input and version give the same plan. With probing, linear relaxation
and symmetry it would spend its work before it uses the hint; presolve is not bounded by the limit, the window is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ortools.sat.python import cp_model

from jobs.calendar.asked import GRID_MINUTES
from jobs.calendar.first_come import Unit, finished, unit_place
from jobs.calendar.ground import Batch, Ground
from jobs.calendar.other_orders import SEED
from jobs.calendar.places import Hands, MixPlace, StretchPlace
from jobs.calendar.solver_model import StretchVars, Window, WorkVars
from jobs.calendar.standing import Standing


def improved(ground: Ground, standing: Standing, movable: Sequence[Unit], refused: frozenset[str], work: float,
             ask: str | None = None, until: Mapping[str, int] | None = None) -> Standing:
    """Return the plan with these units moved to where it is better, the plan itself where nothing better was found.

    work: the solver's deterministic limit. ask: the job whose day counts first; until: then the last day of each other
    job that has one.
    """
    window = Window(ground, standing, movable, refused)
    model = window.model
    uses, moves = len(window.mixings.uses), len(window.moved)
    mixings, moved = sum(use.own for use in window.mixings.uses), sum(window.moved)
    finish = sum(window.finish)
    for_mixing = moves + 1
    for_day = for_mixing * uses + moves + 1
    goal = for_day * finish + for_mixing * mixings + moved
    for_late = for_day * (1 + sum(window.days[-1] + 2 for _ in window.finish))
    if ask is None:
        goal += for_late * sum(window.late)
    else:
        goal += for_late * window.finish_of[ask]
        for name, day in (until or {}).items():
            if name in window.finish_of:
                model.add(window.finish_of[name] <= day)
    model.minimize(goal)
    solver = cp_model.CpSolver()
    chosen = solver.parameters
    chosen.num_workers = 1
    chosen.random_seed = SEED
    chosen.max_deterministic_time = work
    chosen.cp_model_probing_level = 0
    chosen.linearization_level = 0
    chosen.symmetry_level = 0
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return standing
    return _Read(window, solver).standing()


class _Read:
    """The solver's answer read back into places."""

    def __init__(self, window: Window, solver: cp_model.CpSolver) -> None:
        self.window, self.solver, self.ground = window, solver, window.ground

    def _works(self, works: Sequence[WorkVars]) -> tuple[tuple[int, Hands], ...]:
        return tuple(
            (self.solver.value(work.start), next(hands for hands, taken in work.ways if self.solver.value(taken)))
            for work in works
        )

    def standing(self) -> Standing:
        window, ground = self.window, self.ground
        units = dict(window.standing.units)
        batches = [list(some) for some in window.room.batches]
        mixes = self._mixings(batches)
        for unit in window.movable:
            old = units[unit]
            stretches = tuple(
                self._stretch(window.stretches[place.shape.number], mixes) for place in old.stretches
            )
            jobs = []
            for name, _ in old.jobs:
                job = ground.jobs[name]
                before, after = self._works(window.before[name]), self._works(window.after[name])
                end = job.earliest.packing_minute
                loads = [place for place in stretches if name in place.shape.load.jobs]
                for place in loads:
                    if place.shape.asked is place.shape.load.stretches[-1]:
                        cured = place.end + place.shape.least
                        end = max(end, cured * GRID_MINUTES + job.cure_minutes)
                if not loads and before:
                    ready = (before[-1][0] + ground.before[name][-1].length) * GRID_MINUTES + job.outside_minutes
                    end = max(end, ready, job.earliest.bench_minute)
                if after:
                    end = (after[-1][0] + ground.after[name][-1].length) * GRID_MINUTES
                done = finished(ground, job, before, after, -(-end // GRID_MINUTES) * GRID_MINUTES)
                if done is None:
                    return window.standing
                jobs.append((name, done))
            units[unit] = unit_place(jobs, stretches)
        return Standing(units, tuple(map(tuple, batches)), window.standing.refused)

    def _mixings(self, batches: list[list[Batch]]) -> dict[tuple[int, int], MixPlace]:
        """Put the mixings of all uses into the batches; return how each use is served, by stretch and kind."""
        window, value = self.window, self.solver.value
        served: dict[tuple[int, int], MixPlace] = {}
        made: dict[int, int] = {}
        for at, user in enumerate(window.mixings.uses):
            kind, some = self.ground.kinds[user.use.kind], batches[user.use.kind]
            if value(user.own):
                start, who = value(user.start), next(person for person, taken in user.ways if value(taken))
                made[at] = len(some)
                some.append((start, start + kind.length, who, user.use.ml, user.shape.load.jobs, (user.shape.number,)))
                served[user.shape.number, user.use.kind] = MixPlace(user.use, None, start, who)
                continue
            number = next((number for number, taken in user.fixed.items() if value(taken)), None)
            if number is None:
                number = made[next(other for other, taken in user.joins.items() if value(taken))]
            old = some[number]
            some[number] = (*old[:3], old[3] + user.use.ml, old[4], (*old[5], user.shape.number))
            served[user.shape.number, user.use.kind] = MixPlace(user.use, number, old[0], old[2])
        return served

    def _stretch(self, stretch: StretchVars, mixes: Mapping[tuple[int, int], MixPlace]) -> StretchPlace:
        works, shape = self._works(stretch.works), stretch.shape
        bench = next(at for at, taken in enumerate(stretch.benches) if self.solver.value(taken))
        return StretchPlace(shape, bench, works, tuple(mixes[shape.number, use.kind] for use in shape.uses),
                            works[0][0], works[-1][0] + shape.works[-1].length)
