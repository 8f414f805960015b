"""Some units of a plan as a model of CP-SAT, the rest fixed: every variable hinted with where it stands.

All in slots. Where work may start is a domain, read from the bits of what is free beside the fixed; only what may move
can meet, and is kept apart by intervals. Source of the solver: OR-tools, google (Apache-2.0).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from ortools.sat.python import cp_model

from jobs.calendar.asked import GRID_MINUTES, day_of
from jobs.calendar.first_come import Unit, UnitPlace
from jobs.calendar.ground import DAY_BITS, DAY_SLOTS, NEVER, Ground, Room, StretchShape, WorkShape, slots_up
from jobs.calendar.places import Hands, StretchPlace
from jobs.calendar.placing import Placing
from jobs.calendar.solver_mixes import Mixings
from jobs.calendar.standing import Standing

#: so many working days after the last finish of a window something of it may be placed
DAYS_MORE = 3
#: a variable, or an expression of them
Term = Any


@dataclass
class WorkVars:
    """When a work starts, and for each way of whose hands whether it is this one."""

    start: Term
    ways: list[tuple[Hands, Term]]


@dataclass
class StretchVars:
    shape: StretchShape
    works: list[WorkVars]
    benches: list[Term]
    day: Term


def stretches_of(bits: int) -> Iterator[tuple[int, int]]:
    """Yield where ones begin and end."""
    while bits:
        begin = (bits & -bits).bit_length() - 1
        rest = ~(bits >> begin)
        end = begin + (rest & -rest).bit_length() - 1
        yield begin, end
        bits = bits >> end << end


class Window:
    """The model of the units that may move. days: on which something of theirs may be placed."""

    def __init__(self, ground: Ground, standing: Standing, movable: Sequence[Unit], refused: frozenset[str]) -> None:
        self.ground, self.standing, self.movable, self.refused = ground, standing, list(movable), refused
        self.room: Room = standing.room(ground, [unit for unit in standing.units if unit not in movable])
        self.placing = Placing(ground, self.room)
        self.model = cp_model.CpModel()
        places = [standing.units[unit] for unit in movable]
        last = max(job.finish_day for place in places for _, job in place.jobs)
        self.days = ground.open_days[:bisect_right(ground.open_days, last) + DAYS_MORE]
        self.busy: list[list[Term]] = [[] for _ in ground.people]
        self.held: list[list[Term]] = [[] for _ in ground.benches]
        self.stretches: dict[int, StretchVars] = {}
        self.before: dict[str, list[WorkVars]] = {}
        self.after: dict[str, list[WorkVars]] = {}
        self.mixings = Mixings(self)
        self.late: list[Term] = []
        self.finish: list[Term] = []
        self.finish_of: dict[str, Term] = {}
        self.moved: list[Term] = []
        for place in places:
            self._unit(place)
        self.mixings.tie()
        self._apart()

    def bits_of(self, starts: dict[int, int], low: int = 0, high: int = NEVER) -> cp_model.Domain:
        """Return the slots of some days as a domain."""
        found = []
        for day, bits in starts.items():
            first = day * DAY_SLOTS
            for begin, end in stretches_of(bits):
                if first + end - 1 >= low and first + begin <= high:
                    found.append([max(first + begin, low), min(first + end - 1, high)])
        return cp_model.Domain.from_intervals(found)

    def hint(self, variable: Term, value: int) -> Term:
        self.model.add_hint(variable, value)
        return variable

    def choice(self, true: bool) -> Term:
        return self.hint(self.model.new_bool_var(""), int(true))

    def _work(self, work: WorkShape, at: tuple[int, Hands], low: int, within: dict[int, int] | None = None) -> WorkVars:
        """Add a work: its start in what is free for somebody, and whose hands. within: only at these slots of a day."""
        ways: dict[Hands, dict[int, int]] = {}
        everybody: dict[int, int] = {}
        for day in self.days:
            if within is not None and not within.get(day):
                continue
            for hands, bits in self.placing.free_for(work, day):
                bits &= DAY_BITS if within is None else within[day]
                if bits:
                    ways.setdefault(hands, {})[day] = bits
                    everybody[day] = everybody.get(day, 0) | bits
        start = self.hint(self.model.new_int_var_from_domain(self.bits_of(everybody, low), ""), at[0])
        chosen = []
        for hands in sorted(ways):
            if len(ways) == 1:
                taken: Term = self.model.new_constant(1)
            else:
                taken = self.choice(hands == at[1])
                if ways[hands] != everybody:
                    domain = self.bits_of(ways[hands], low)
                    self.model.add_linear_expression_in_domain(start, domain).only_enforce_if(taken)
            chosen.append((hands, taken))
            for person in hands:
                self.busy[person].append(
                    self.model.new_optional_fixed_size_interval_var(start, work.length, taken, ""))
        if len(chosen) > 1:
            self.model.add_exactly_one(taken for _, taken in chosen)
        return WorkVars(start, chosen)

    def _unit(self, place: UnitPlace) -> None:
        ground, model = self.ground, self.model
        ready: dict[str, Term] = {}
        for name, job in place.jobs:
            asked = ground.jobs[name]
            works: list[WorkVars] = []
            end = slots_up(asked.earliest.before_minute)
            low: Term = end
            for job_work, at in zip(ground.before[name], job.before, strict=True):
                work = self._work(job_work, at, end)
                if works:
                    model.add(work.start >= low)
                works.append(work)
                low = work.start + job_work.length
            self.before[name] = works
            ready[name] = low + slots_up(asked.outside_minutes)
        places = {stretch.shape.number: stretch for stretch in place.stretches}
        ends: dict[str, list[Term]] = {name: [] for name, _ in place.jobs}
        for chain in self._chains([name for name, _ in place.jobs]):
            previous: tuple[StretchShape, Term] | None = None
            for shape in chain:
                stretch = self._stretch(shape, places[shape.number])
                start = stretch.works[0].start
                if previous:
                    model.add(start >= previous[1] + previous[0].least)
                    if previous[0].most is not None:
                        model.add(start <= previous[1] + previous[0].most)
                else:
                    for name in shape.load.jobs:
                        model.add(start >= ready[name])
                previous = shape, stretch.works[-1].start + shape.works[-1].length
            assert previous is not None
            for name in chain[0].load.jobs:
                ends[name].append(previous[1] + previous[0].least + slots_up(ground.jobs[name].cure_minutes))
        for name, job in place.jobs:
            packing = slots_up(ground.jobs[name].earliest.packing_minute)
            after, waits = [], ends[name] or ([ready[name]] if self.before[name] else [])
            for job_work, at in zip(ground.after[name], job.after, strict=True):
                work = self._work(job_work, at, packing)
                for end_before in waits:
                    model.add(work.start >= end_before)
                after.append(work)
                waits = [work.start + job_work.length]
            self.after[name] = after
            self._finish(name, job.finish_day, waits, packing)

    def _chains(self, unit: Sequence[str]) -> list[tuple[StretchShape, ...]]:
        numbers = sorted({load for job in unit for load in self.ground.loads_of[job]})
        return [self.ground.chains[at] for at in numbers if not self.refused & set(self.ground.loads[at].jobs)]

    def _finish(self, name: str, stands: int, waits: Sequence[Term], packing: int) -> None:
        """Add on which day a job is ready, and how late that is."""
        job, model = self.ground.jobs[name], self.model
        last = max(stands, self.days[-1])
        if job.leaves == "collection":
            latest = {day_of(when): when // GRID_MINUTES for when in self.ground.asked.collections}
            days = [day for day in latest if day <= last]
            day = self.hint(model.new_int_var_from_domain(cp_model.Domain.from_values(days), ""), stands)
            until: Term = 0
            picked = []
            for one in days:
                is_it = self.choice(one == stands)
                picked.append((one, is_it))
                until = until + latest[one] * is_it
            model.add_exactly_one(is_it for _, is_it in picked)
            model.add(day == sum(one * is_it for one, is_it in picked))
        else:
            day = self.hint(model.new_int_var(0, last, ""), stands)
            until = day * DAY_SLOTS + DAY_SLOTS
        for end in (*waits, packing):
            model.add(end <= until)
        self.finish.append(day)
        self.finish_of[name] = day
        if job.due_day is not None and last > job.due_day:
            late = self.hint(model.new_int_var(0, last - job.due_day, ""), max(0, stands - job.due_day))
            model.add(late >= day - job.due_day)
            self.late.append(job.weight * late)

    def _stretch(self, shape: StretchShape, at: StretchPlace) -> StretchVars:
        model, benches = self.model, range(len(self.ground.benches))
        within = [dict[int, int]() for _ in shape.works]
        starts: list[dict[int, int]] = [{} for _ in benches]
        low, high = shape.earliest, shape.latest
        ready = max(slots_up(self.ground.jobs[job].earliest.bench_minute) for job in shape.load.jobs)
        low = max(low, ready)
        if shape.pinned:
            low, high = max(low, shape.pinned[0]), min(high, shape.pinned[0])
        for day in self.days:
            first = day * DAY_SLOTS
            if first + DAY_SLOTS <= low or first > high:
                continue
            for bench in benches:
                if shape.pinned and shape.pinned[1] != bench:
                    continue
                masks = self.placing.starts(shape, day, bench, max(low - first, 0), min(high - first, DAY_SLOTS - 1))
                if masks:
                    starts[bench][day] = masks[0]
                    for number, bits in enumerate(masks):
                        within[number][day] = within[number].get(day, 0) | bits
        works = [self._work(work, place, 0, bits)
                 for work, place, bits in zip(shape.works, at.works, within, strict=True)]
        for one, other, work in zip(works, works[1:], shape.works, strict=False):
            if work.least == work.most:
                model.add(other.start == one.start + work.length + work.least)
            else:
                model.add(other.start >= one.start + work.length + work.least)
                model.add(other.start <= one.start + work.length + work.most)
        first_start, last_end = works[0].start, works[-1].start + shape.works[-1].length
        days = sorted({day for bench in starts for day in bench})
        day = self.hint(model.new_int_var_from_domain(cp_model.Domain.from_values(days), ""), at.start // DAY_SLOTS)
        model.add(first_start >= day * DAY_SLOTS)
        model.add(last_end <= day * DAY_SLOTS + DAY_SLOTS)
        least = sum(work.length for work in shape.works) + sum(work.least for work in shape.works[:-1])
        length = self.hint(model.new_int_var(least, shape.longest, ""), at.end - at.start)
        model.add(length == last_end - first_start)
        taken = []
        for bench in benches:
            here = self.choice(bench == at.bench) if len(benches) > 1 else model.new_constant(1)
            if not starts[bench]:
                model.add(here == 0)
            elif len(benches) > 1:
                model.add_linear_expression_in_domain(first_start, self.bits_of(starts[bench])).only_enforce_if(here)
            taken.append(here)
            self.held[bench].append(model.new_optional_interval_var(first_start, length, last_end, here, ""))
        model.add_exactly_one(taken)
        found = StretchVars(shape, works, taken, day)
        self.stretches[shape.number] = found
        for use in shape.uses:
            self.mixings.add(found, use)
        if shape.asked.was_day is not None:
            away = self.choice(at.start // DAY_SLOTS != shape.asked.was_day)
            model.add(day == shape.asked.was_day).only_enforce_if(~away)
            self.moved.append(away)
        return found

    def _apart(self) -> None:
        """Keep what moves apart from each other, and on the benches from what is fixed."""
        for bench, spells in enumerate(self.held):
            for day in self.days:
                for start, end in stretches_of(~self.room.benches[bench][day] & DAY_BITS):
                    first = day * DAY_SLOTS + start
                    spells.append(self.model.new_fixed_size_interval_var(first, end - start, ""))
        for spells in (*self.busy, *self.held):
            self.model.add_no_overlap(spells)
