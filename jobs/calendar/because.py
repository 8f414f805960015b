"""Why a job is not ready sooner: from its end back over what touched it, joined into a sentence.

At each step back it is asked what held a thing where it is: what comes before it in the job (a wait, a cure, work that
ends just then), a cause from outside (glass, materials, crate), else the hands or the bench that were not free.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from jobs.calendar.asked import DAY_MINUTES, CalendarAsked, FurtherJob, JobAsked, LoadAsked, day_of
from jobs.calendar.planned import Plan

#: a day as a sentence says it ("Thu 10 Dec")
DayWords = Callable[[int], str]


@dataclass(frozen=True, kw_only=True)
class Held:
    """What held a job from one minute to another: wait, hands, bench, nobody, collection, cause; `says` names it."""

    what: str
    from_minute: int
    to_minute: int
    says: str = ""


def held_by(asked: CalendarAsked, plan: Plan, job: str, further: FurtherJob | None = None) -> list[Held]:
    """Return what held a job, the last first, equal neighbours joined. Errors: KeyError where it is not placed."""
    joined: list[Held] = []
    for one in _Walk(asked, plan, job, further).back():
        last = joined[-1] if joined else None
        if last and last.what == one.what and last.says == one.says:
            joined[-1] = Held(what=one.what, from_minute=one.from_minute, to_minute=last.to_minute, says=one.says)
        else:
            joined.append(one)
    return joined


def because(asked: CalendarAsked, plan: Plan, job: str, day_words: DayWords, further: FurtherJob | None = None) -> str:
    """Return the sentence: "Ready Thu 10 Dec: the bench is full until Mon 7 Dec, then two days of drying and cure."

    Only what took at least half a day is named, at most three things; if nothing did: its work follows without a gap.
    """
    finish = plan.jobs[job].finish_minute
    held = [one for one in held_by(asked, plan, job, further) if one.to_minute - one.from_minute >= DAY_MINUTES // 2]
    longest = sorted(held, key=lambda one: one.from_minute - one.to_minute)[:3]
    chosen = sorted(longest, key=lambda one: one.from_minute)
    said = ", then ".join(_words(one, day_words) for one in chosen)
    return f"Ready {day_words(day_of(finish))}: {said or 'its work follows without a gap'}."


def _words(held: Held, day_words: DayWords) -> str:
    until = day_words(day_of(held.to_minute))
    if held.what == "hands":
        return f"{held.says} {'are' if ' and ' in held.says else 'is'} not free until {until}"
    if held.what == "bench":
        return f"the bench is full until {until}"
    if held.what == "nobody":
        return f"nobody is there until {until}"
    if held.what in ("cause", "collection"):
        return f"{held.says} {until}"
    return f"{how_many_days(held.to_minute - held.from_minute)} of {held.says}"


_COUNTS = ("half a day", "a day", "two days", "three days", "four days", "five days", "six days", "seven days")


def how_many_days(minutes: int) -> str:
    """Return a time as days in words, to the nearest."""
    days = (minutes + DAY_MINUTES // 2) // DAY_MINUTES
    if minutes < DAY_MINUTES * 3 // 4:
        return _COUNTS[0]
    return _COUNTS[days] if days < len(_COUNTS) else f"{days} days"


class _Walk:
    def __init__(self, asked: CalendarAsked, plan: Plan, job: str, further: FurtherJob | None) -> None:
        self.asked, self.plan = asked, plan
        jobs = {one.id: one for one in asked.jobs} | ({further.job.id: further.job} if further else {})
        self.jobs, self.job = jobs, jobs[job]
        placed = set(plan.stretches)
        loads = (*asked.loads, *(further.loads if further else ()))
        self.loads = [load for load in loads if load.stretches[0].id in placed]
        self.people = {person.name: person for person in asked.people}

    def back(self) -> Iterator[Held]:
        """Yield what held the job, from its end to its begin."""
        job, placed = self.job, self.plan.jobs[self.job.id]
        at = placed.finish_minute
        if job.leaves == "collection":
            end = placed.after[-1].start_minute + job.after[-1].minutes if job.after else None
            if end is not None and end < at:
                yield Held(what="collection", from_minute=end, to_minute=at, says="it waits for the collection")
                at = end
        mine = [load for load in self.loads if job.id in load.jobs]
        last = max(mine, key=self._out, default=None)
        ready = self._cured(job, last)
        for work, place in zip(reversed(job.after), reversed(placed.after), strict=True):
            before = self._before_packing(job, place.start_minute, ready)
            yield from self._free(before, place.start_minute, work.minutes, place.people, None)
            at = before
        if job.earliest.packing_minute >= ready and job.earliest.packing_minute >= at > 0:
            cause = job.earliest.packing_cause or "packing waits until"
            yield Held(what="cause", from_minute=ready, to_minute=at, says=cause)
            return
        if last is not None:
            yield from self._load(last, job)

    def _out(self, load: LoadAsked) -> int:
        stretch = load.stretches[-1]
        return self.plan.stretches[stretch.id].works[-1].start_minute + stretch.works[-1].minutes

    def _cured(self, job: JobAsked, load: LoadAsked | None) -> int:
        return 0 if load is None else self._out(load) + load.stretches[-1].wait_least_minutes + job.cure_minutes

    def _before_packing(self, job: JobAsked, start: int, ready: int) -> int:
        """Return the end of what comes just before a work after the bench: another such work, cure, or its earliest."""
        ends = [place.start_minute + work.minutes
                for work, place in zip(job.after, self.plan.jobs[job.id].after, strict=True)]
        return max([ready, job.earliest.packing_minute, *(end for end in ends if end <= start)])

    def _load(self, load: LoadAsked, job: JobAsked) -> Iterator[Held]:
        out = self._out(load)
        rest = load.stretches[-1].wait_least_minutes + job.cure_minutes
        if rest:
            yield Held(what="wait", from_minute=out, to_minute=out + rest, says="drying and cure")
        for number in range(len(load.stretches) - 1, -1, -1):
            stretch, placed = load.stretches[number], self.plan.stretches[load.stretches[number].id]
            start = placed.start_minute
            if number:
                one = load.stretches[number - 1]
                end = self.plan.stretches[one.id].works[-1].start_minute + one.works[-1].minutes
                low = end + one.wait_least_minutes
            else:
                low = max(self._ready(self.jobs[name]) for name in load.jobs)
            yield from self._free(low, start, stretch.works[0].minutes, placed.works[0].people, placed.bench)
            if number and one.wait_least_minutes:
                yield Held(what="wait", from_minute=end, to_minute=low, says="drying and cure")
        slowest = max((self.jobs[name] for name in load.jobs), key=self._ready)
        yield from self._prepared(slowest)

    def _ready(self, job: JobAsked) -> int:
        return max(self._made(job) + job.outside_minutes, job.earliest.bench_minute)

    def _made(self, job: JobAsked) -> int:
        placed = self.plan.jobs[job.id].before
        return placed[-1].start_minute + job.before[-1].minutes if placed else job.earliest.before_minute

    def _prepared(self, job: JobAsked) -> Iterator[Held]:
        made, now = self._made(job), self.asked.now_minute
        if job.earliest.bench_minute > made + job.outside_minutes:
            if job.earliest.bench_minute > now:
                yield Held(what="cause", from_minute=now, to_minute=job.earliest.bench_minute,
                           says=job.earliest.bench_cause or "its materials come")
            return
        if job.outside_minutes:
            yield Held(what="wait", from_minute=made, to_minute=made + job.outside_minutes, says="outside work")
        if job.earliest.before_minute > now:
            yield Held(what="cause", from_minute=now, to_minute=job.earliest.before_minute,
                       says=job.earliest.before_cause or "its glass comes")

    def _free(self, low: int, start: int, minutes: int, people: tuple[str, ...], bench: str | None) -> Iterator[Held]:
        """Yield what kept a thing from starting at `low`, when it could have: nobody there, a bench or hands in use."""
        if start <= low:
            return
        there = self._there(low, start, minutes)
        if there >= start:
            yield Held(what="nobody", from_minute=low, to_minute=start)
        elif bench is not None and self._bench_busy(there, start):
            yield Held(what="bench", from_minute=low, to_minute=start)
        else:
            yield Held(what="hands", from_minute=low, to_minute=start, says=" and ".join(people))

    def _there(self, low: int, start: int, minutes: int) -> int:
        """Return the first minute from `low` on at which somebody is there for so long."""
        return min((first for person in self.people.values() for spell in person.hours
                    if (first := max(spell.start_minute, low)) + minutes <= spell.end_minute), default=start)

    def _bench_busy(self, low: int, start: int) -> bool:
        """Say whether all benches are held for most of the time that somebody could have worked."""
        there = sum(max(0, min(spell.end_minute, start) - max(spell.start_minute, low))
                    for spell in next(iter(self.people.values())).hours)
        held = 0
        for load in self.loads:
            for stretch in load.stretches:
                placed = self.plan.stretches[stretch.id]
                end = placed.works[-1].start_minute + stretch.works[-1].minutes
                held += max(0, min(end, start) - max(placed.start_minute, low))
        return held * 2 > there * len(self.asked.benches)
