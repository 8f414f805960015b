"""What must never break in a plan of the calendar: every broken rule a sentence. And how good a plan is.

Reads only what was asked and what is answered, in minutes: nothing of how it was planned. A plan of which anything is
said here is never shown.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from jobs.calendar.asked import (
    DAY_MINUTES,
    CalendarAsked,
    FurtherJob,
    JobAsked,
    LoadAsked,
    MixUse,
    StretchAsked,
    WorkAsked,
    day_of,
)
from jobs.calendar.planned import Mixing, PlacedStretch, PlacedWork, Plan, Value


def clock(minute: int) -> str:
    """Return a minute as sentences say it: its day from 0, the hour and minute."""
    day, rest = divmod(minute, DAY_MINUTES)
    return f"day {day}, {rest // 60:02}:{rest % 60:02}"


def lateness(job: JobAsked, finish_minute: int) -> int:
    """Return days after the day told to the customer; 0 where none was."""
    return 0 if job.due_day is None else max(0, day_of(finish_minute) - job.due_day)


def value_of(asked: CalendarAsked, plan: Plan) -> Value:
    """Return how good a plan is that breaks no rule."""
    placed = [(job, plan.jobs[job.id].finish_minute) for job in asked.jobs if job.id in plan.jobs]
    return Value(
        refused=len(plan.refused), late=sum(job.weight * lateness(job, finish) for job, finish in placed),
        finish_days=sum(day_of(finish) for _, finish in placed), mixings=len(plan.mixings),
        moved=sum(
            1 for load in asked.loads for stretch in load.stretches
            if stretch.was_day is not None and stretch.id in plan.stretches
            and plan.stretches[stretch.id].start_minute // DAY_MINUTES != stretch.was_day
        ),
    )


def broken(asked: CalendarAsked, plan: Plan, further: Sequence[FurtherJob] = ()) -> list[str]:
    """Return a sentence for every rule that a plan breaks; none for one that stands. further: jobs planned besides."""
    return _Reading(asked, plan, further).sentences()


def packed_from(job: JobAsked, loads: Sequence[LoadAsked], stretches: Mapping[str, PlacedStretch],
                before: Sequence[PlacedWork]) -> int:
    """Return the minute from which a job may be packed: all its loads cured; without a load, all before it done."""
    low = job.earliest.packing_minute
    for load in loads:
        last = load.stretches[-1]
        end = stretches[last.id].works[-1].start_minute + last.works[-1].minutes
        low = max(low, end + last.wait_least_minutes + job.cure_minutes)
    if job.before and not loads:
        low = max(low, ready_for_bench(job, before))
    return low


def ready_for_bench(job: JobAsked, before: Sequence[PlacedWork]) -> int:
    """Return the minute from which a job's loads may start."""
    end = before[-1].start_minute + job.before[-1].minutes if before else job.earliest.before_minute
    return max(end + job.outside_minutes, job.earliest.bench_minute)


def finish_of(asked: CalendarAsked, job: JobAsked, loads: Sequence[LoadAsked], stretches: Mapping[str, PlacedStretch],
              before: Sequence[PlacedWork], after: Sequence[PlacedWork]) -> int | None:
    """Return the minute at which a job is ready, or collected; None where no collection comes."""
    end = after[-1].start_minute + job.after[-1].minutes if after else packed_from(job, loads, stretches, before)
    if job.leaves == "ready":
        return end
    return min((when for when in asked.collections if when >= end), default=None)


class _Reading:
    def __init__(self, asked: CalendarAsked, plan: Plan, further: Sequence[FurtherJob]) -> None:
        self.asked, self.plan = asked, plan
        self.people = {person.name: person for person in asked.people}
        refused = {refusal.job for refusal in plan.refused}
        self.jobs = {job.id: job for job in (*asked.jobs, *(ask.job for ask in further)) if job.id not in refused}
        self.known = {job.id for job in asked.jobs}
        loads = (*asked.loads, *(load for ask in further for load in ask.loads))
        self.loads = [load for load in loads if not refused & set(load.jobs)]
        self.busy: dict[str, list[tuple[int, int, str]]] = defaultdict(list)
        self.held: dict[str, list[tuple[int, int, str]]] = defaultdict(list)
        self.uses: dict[tuple[str, str], tuple[MixUse, StretchAsked, LoadAsked]] = {}

    def sentences(self) -> list[str]:
        found = list(self._whole())
        if found:
            return found
        for job in self.jobs.values():
            found += self._before(job)
        for load in self.loads:
            found += self._load(load)
        found += self._mixings()
        for job in self.jobs.values():
            found += self._after(job)
        return found + list(self._twice())

    def _whole(self) -> Iterator[str]:
        """Every job is placed whole or refused with a reason, and nothing else is there."""
        for refusal in self.plan.refused:
            if refusal.job not in self.known:
                yield f"{refusal.job} is refused, but was not asked for."
            if not refusal.why.strip():
                yield f"{refusal.job} is refused without a reason."
        for name in sorted(set(self.plan.jobs) ^ set(self.jobs)):
            yield f"{name} is neither placed nor refused." if name in self.jobs else f"{name} must not be placed."
        stretches = {stretch.id: stretch for load in self.loads for stretch in load.stretches}
        for name in sorted(set(self.plan.stretches) ^ set(stretches)):
            yield f"Stretch {name} {'is not' if name in stretches else 'must not be'} placed."
        for name, stretch in stretches.items():
            placed = self.plan.stretches.get(name)
            if placed and len(placed.works) != len(stretch.works):
                yield f"Stretch {name} has {len(placed.works)} works placed of {len(stretch.works)}."
        for name, job in self.jobs.items():
            at = self.plan.jobs.get(name)
            if at and (len(at.before), len(at.after)) != (len(job.before), len(job.after)):
                yield f"{name}: works before or after the bench are missing, or too many."

    def _hands(self, what: str, minutes: int, placed: PlacedWork, *, hands: int = 1, owner: bool = False,
               by: str = "", never_alone: bool = False) -> Iterator[str]:
        """One work of one or two people, wholly within a spell of each."""
        start, end, names = placed.start_minute, placed.start_minute + minutes, placed.people
        if start < self.asked.now_minute:
            yield f"{what} starts before now."
        if len(set(names)) != len(names) or len(names) != hands:
            yield f"{what} wants {hands} pair{'s' if hands > 1 else ''} of hands."
        if unknown := [name for name in names if name not in self.people]:
            yield f"{what}: nobody is called {unknown[0]}."
            return
        for name in names:
            if not self._there(name, start, end):
                yield f"{what}: {name} is not there from {clock(start)} for {minutes} min without a break."
            if minutes:
                self.busy[name].append((start, end, what))
        if owner and not any(self.people[name].role == "owner" for name in names):
            yield f"{what} wants the owner's hands."
        if by and not any(self.people[name].role == by for name in names):
            yield f"{what} is pinned to the {by}'s hands."
        if never_alone and len(names) < 2 and not any(
            self._there(other, start, end) for other in self.people if other not in names
        ):
            yield f"{what} is never done alone, and nobody else is there."

    def _there(self, name: str, start: int, end: int) -> bool:
        return any(spell.start_minute <= start and end <= spell.end_minute for spell in self.people[name].hours)

    def _work(self, what: str, work: WorkAsked, placed: PlacedWork) -> Iterator[str]:
        return self._hands(what, work.minutes, placed, hands=work.hands, owner=work.owner, by=work.by,
                           never_alone=work.never_alone)

    def _in_order(self, what: str, works: Sequence[WorkAsked], placed: Sequence[PlacedWork], low: int) -> Iterator[str]:
        for at, (work, place) in enumerate(zip(works, placed, strict=True), 1):
            name = f"{what}, work {at}"
            if place.start_minute < low:
                yield f"{name} starts at {clock(place.start_minute)}, not before {clock(low)}."
            yield from self._work(name, work, place)
            low = place.start_minute + work.minutes

    def _before(self, job: JobAsked) -> Iterator[str]:
        return self._in_order(f"{job.called} before the bench", job.before, self.plan.jobs[job.id].before,
                              job.earliest.before_minute)

    def _ready(self, name: str) -> int:
        """Return when a job is ready for the bench."""
        return ready_for_bench(self.jobs[name], self.plan.jobs[name].before)

    def _load(self, load: LoadAsked) -> Iterator[str]:
        low, high = max(self._ready(job) for job in load.jobs), None
        for stretch in load.stretches:
            placed = self.plan.stretches[stretch.id]
            yield from self._stretch(stretch, placed, low, high)
            end = placed.works[-1].start_minute + stretch.works[-1].minutes
            low = end + stretch.wait_least_minutes
            high = None if stretch.wait_most_minutes is None else end + stretch.wait_most_minutes
            for use in stretch.mixes:
                self.uses[stretch.id, use.key] = (use, stretch, load)

    def _stretch(self, stretch: StretchAsked, placed: PlacedStretch, low: int, high: int | None) -> Iterator[str]:
        what, start = f"Stretch {stretch.id}", placed.start_minute
        if start < max(low, stretch.earliest_minute or 0):
            yield f"{what} starts at {clock(start)}, not before {clock(max(low, stretch.earliest_minute or 0))}."
        if high is not None and start > high:
            yield f"{what} starts at {clock(start)}, but what came before it may wait until {clock(high)} only."
        if stretch.latest_minute is not None and start > stretch.latest_minute:
            yield f"{what} starts at {clock(start)}, after its latest, {clock(stretch.latest_minute)}."
        end = None
        for at, (work, place) in enumerate(zip(stretch.works, placed.works, strict=True)):
            if end is not None:
                last = stretch.works[at - 1]
                if not last.wait_least_minutes <= place.start_minute - end <= last.wait_most_minutes:
                    yield (f"{what}: {place.start_minute - end} min before work {at + 1}, allowed are "
                           f"{last.wait_least_minutes} to {last.wait_most_minutes}.")
            yield from self._work(f"{what}, work {at + 1}", work, place)
            end = place.start_minute + work.minutes
        assert end is not None
        if start // DAY_MINUTES != day_of(end):
            yield f"{what} runs over the end of the day."
        if placed.bench not in self.asked.benches:
            yield f"{what}: there is no bench {placed.bench}."
        self.held[placed.bench].append((start, end, what))
        if (pin := stretch.pinned) and (pin.start_minute, pin.bench) != (start, placed.bench):
            yield f"{what} is pinned to {clock(pin.start_minute)} on {pin.bench} and was moved."

    def _mixings(self) -> Iterator[str]:
        kinds, served = {mix.key: mix for mix in self.asked.mixes}, set()
        for mixing in self.plan.mixings:
            kind = kinds.get(mixing.key)
            if kind is None:
                yield f"There is no mix {mixing.key}."
                continue
            what = f"The mixing of {kind.called} on {clock(mixing.start_minute)}"
            placed = PlacedWork(start_minute=mixing.start_minute, people=mixing.people)
            yield from self._hands(what, kind.minutes, placed, owner=kind.owner)
            if not mixing.stretches:
                yield f"{what} serves nothing."
            for name in mixing.stretches:
                if (name, mixing.key) not in self.uses or (name, mixing.key) in served:
                    yield f"{what} serves {name}, which does not use it or has it already."
                    continue
                served.add((name, mixing.key))
                yield from self._use(what, mixing, name)
            found = [self.uses[name, mixing.key] for name in mixing.stretches if (name, mixing.key) in self.uses]
            if sum(use.ml for use, _, _ in found) > kind.most_ml:
                yield f"{what}: {sum(use.ml for use, _, _ in found)} mL is above the largest batch, {kind.most_ml} mL."
            if kind.shared == "no" and len(mixing.stretches) > 1:
                yield f"{what} may serve one stretch only."
            if kind.shared == "job" and len({load.jobs for _, _, load in found}) > 1:
                yield f"{what} may serve one job only."
        for name, key in sorted(set(self.uses) - served):
            yield f"Stretch {name} uses {key}, and none is mixed for it."

    def _use(self, what: str, mixing: Mixing, name: str) -> Iterator[str]:
        use, stretch, load = self.uses[name, mixing.key]
        kind = next(mix for mix in self.asked.mixes if mix.key == mixing.key)
        works = self.plan.stretches[name].works
        end, when = mixing.start_minute + kind.minutes, works[use.first_work].start_minute
        if mixing.start_minute < max(self.jobs[job].earliest.bench_minute for job in load.jobs):
            yield f"{what} is before the materials of {name} are there."
        if not end <= when <= end + kind.keeps_minutes:
            yield f"{what}: {name} uses it at {clock(when)}; it is good until {clock(end + kind.keeps_minutes)}."
        if kind.safe_within_minutes is not None:
            if use.safe_work is None:
                yield f"{what}: {name} never makes it safe."
                return
            safe = works[use.safe_work].start_minute + stretch.works[use.safe_work].minutes
            same_day = day_of(safe) == mixing.start_minute // DAY_MINUTES
            if safe - mixing.start_minute > kind.safe_within_minutes or not same_day:
                yield f"{what}: made safe at {clock(safe)}, too late."

    def _after(self, job: JobAsked) -> Iterator[str]:
        placed, mine = self.plan.jobs[job.id], [load for load in self.loads if job.id in load.jobs]
        low = packed_from(job, mine, self.plan.stretches, placed.before)
        yield from self._in_order(f"{job.called} after the bench", job.after, placed.after, low)
        end = finish_of(self.asked, job, mine, self.plan.stretches, placed.before, placed.after)
        if end is None:
            yield f"{job.called}: there is no collection after its packing."
        elif placed.finish_minute != end:
            yield f"{job.called} is said to be ready at {clock(placed.finish_minute)}, but is at {clock(end)}."

    def _twice(self) -> Iterator[str]:
        for what, spells in (*sorted(self.busy.items()), *sorted(self.held.items())):
            for one, other in pairwise(sorted(spells)):
                if other[0] < one[1]:
                    yield f"{what} is wanted twice at {clock(other[0])}: {one[2]}, and {other[2]}."
