"""Which jobs can't be done even alone, and the reason in a sentence that names what is wanted and what there is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from jobs.calendar.asked import GRID_MINUTES, CalendarAsked, JobAsked, MixAsked, StretchAsked, WorkAsked
from jobs.calendar.first_come import FirstCome, Unit, UnitPlace, units_of
from jobs.calendar.ground import DAY_BITS, DAY_SLOTS, Ground, runs
from jobs.calendar.planned import Refusal

#: how long is looked for a place within one day before a job is refused
MOST_STEPS, MOST_STEPS_AT_LAST = 120, 1000


def alone(ground: Ground, unit: Unit, refused: frozenset[str] = frozenset()) -> UnitPlace | None:
    """Return a unit as it would be if there were no other; None where it can't be done."""
    for steps in (MOST_STEPS, MOST_STEPS_AT_LAST):
        first_come = FirstCome(ground, refused, steps)
        if first_come.pin([unit]) is None and (place := first_come.place(unit, first_come.room)):
            return place
        if any(next(_reasons(ground, ground.jobs[job]), None) for job in unit):
            break  # no longer search finds what can't be
    return None


def refusals(ground: Ground, jobs: Sequence[str]) -> tuple[list[Refusal], dict[Unit, UnitPlace]]:
    """Return the jobs that can't be done, with reasons, and each other unit as it would be alone.

    Of jobs that share a load only those are refused that can't be done, as few as are found: the last booked first.
    """
    refused: dict[str, str] = {}
    found: dict[Unit, UnitPlace] = {}
    for unit in units_of(ground, jobs):
        left = unit
        place = alone(ground, left)
        while place is None and left:
            out = _culprit(ground, left, frozenset(refused))
            refused[out] = why_not(ground, ground.jobs[out])
            left = tuple(job for job in left if job != out)
            place = alone(ground, left, frozenset(refused)) if left else None
        if left and place:
            for one in units_of(ground, left, frozenset(refused)):
                single = alone(ground, one, frozenset(refused))
                assert single is not None
                found[one] = single
    order = {job: at for at, job in enumerate(jobs)}
    return [Refusal(job=job, why=refused[job]) for job in sorted(refused, key=order.__getitem__)], found


def _culprit(ground: Ground, unit: Unit, refused: frozenset[str]) -> str:
    """Return the job of a unit to refuse: one without which the rest can be done, the last booked first."""
    for job in reversed(unit):
        if any(_reasons(ground, ground.jobs[job])):
            return job
    for job in reversed(unit):
        rest = tuple(other for other in unit if other != job)
        if rest and alone(ground, rest, refused | {job}):
            return job
    return unit[-1]


def why_not(ground: Ground, job: JobAsked) -> str:
    """Return why a job can't be done, as exactly as is found."""
    return next(_reasons(ground, job), None) or (
        f"No place was found for {job.called} in the {ground.asked.days} days of the calendar, even if nothing else "
        "were done: see its waits, its latest days, what has to come before a time that is pinned, and who is there "
        "when."
    )


def how_long(minutes: int) -> str:
    """Return minutes as the bench says them: 3 h 40, 25 min."""
    hours, rest = divmod(minutes, 60)
    return f"{rest} min" if not hours else f"{hours} h {rest:02}" if rest else f"{hours} h"


def _reasons(ground: Ground, job: JobAsked) -> Iterator[str]:
    asked = ground.asked
    for work in (*job.before, *job.after):
        where = "before" if work in job.before else "after"
        yield from _work_reasons(ground, f"{job.called}: work {where} the bench", work)
    for number in ground.loads_of[job.id]:
        for shape in ground.chains[number]:
            stretch = shape.asked
            for work in stretch.works:
                yield from _work_reasons(ground, stretch.called, work)
            yield from _mix_reasons(asked, stretch)
            yield from _stretch_reasons(stretch)
            if stretch.pinned and shape.pinned and FirstCome(ground, frozenset(), MOST_STEPS_AT_LAST).pin([(job.id,)]):
                yield f"{stretch.called} is pinned where it can't be: hands, bench or mix are not free for it there."
    if job.leaves == "collection" and not asked.collections:
        yield f"{job.called} leaves by a collection, and none is planned."


def _longest(asked: CalendarAsked, owner: bool) -> int:
    return max((spell.end_minute - max(spell.start_minute, asked.now_minute) for person in asked.people
                if not owner or person.role == "owner" for spell in person.hours), default=0)


def _work_reasons(ground: Ground, what: str, work: WorkAsked) -> Iterator[str]:
    asked = ground.asked
    who = "the owner" if work.owner else "somebody"
    if work.hands > len(asked.people):
        yield f"{what} needs two people; there is one."
        return
    longest = _longest(asked, work.owner)
    if work.minutes > longest:
        yield f"{what} needs {who} for {how_long(work.minutes)}; the longest spell is {how_long(longest)}."
        return
    shape = ground.work(work)
    if not shape.hands:
        yield f"{what} wants the owner's hands, and is pinned to the {work.by}'s."
    elif work.hands > 1 and not any(_together(ground, hands, shape.length) for hands in shape.hands):
        yield f"{what} needs two people for {how_long(work.minutes)}; they are never there together for so long."
    elif work.never_alone and work.hands < 2 and not any(
        _together(ground, (one, other), shape.length) for (one,) in shape.hands
        for other in range(len(asked.people)) if other != one
    ):
        yield f"{what} is never done alone, and two people are never there together for {how_long(work.minutes)}."


def _together(ground: Ground, people: Sequence[int], length: int) -> bool:
    """Say whether there is a day on which all of them are there for so long."""
    for day in ground.open_days:
        bits = DAY_BITS
        for person in people:
            bits &= ground.hours[person][day]
        if runs(bits, length):
            return True
    return False


def _mix_reasons(asked: CalendarAsked, stretch: StretchAsked) -> Iterator[str]:
    kinds = {mix.key: mix for mix in asked.mixes}
    for use in stretch.mixes:
        mix: MixAsked = kinds[use.key]
        if use.ml > mix.most_ml:
            yield f"{stretch.called} needs {use.ml} mL of {mix.called} at once; the largest batch is {mix.most_ml} mL."
        longest = _longest(asked, mix.owner)
        if mix.minutes > longest:
            who = "the owner" if mix.owner else "somebody"
            needed = how_long(mix.minutes)
            yield f"Mixing {mix.called} needs {who} for {needed}; the longest spell is {how_long(longest)}."
        if mix.safe_within_minutes is None:
            continue
        within = how_long(mix.safe_within_minutes)
        if use.safe_work is None:
            yield f"{stretch.called} never makes {mix.called} safe, which must be within {within}."
            continue
        works = stretch.works[use.first_work:use.safe_work + 1]
        least = mix.minutes + sum(work.minutes for work in works) + sum(work.wait_least_minutes for work in works[:-1])
        if least > mix.safe_within_minutes:
            yield (f"{stretch.called} takes {how_long(least)} from mixing {mix.called} until it is safe; it must be "
                   f"safe within {within}.")


def _stretch_reasons(stretch: StretchAsked) -> Iterator[str]:
    least = sum(work.minutes for work in stretch.works) + sum(work.wait_least_minutes for work in stretch.works[:-1])
    if least > DAY_SLOTS * GRID_MINUTES:
        yield f"{stretch.called} takes {how_long(least)} without a pause; it must end on the day on which it begins."
    if stretch.latest_minute is not None and stretch.latest_minute < (stretch.earliest_minute or 0):
        yield f"{stretch.called} may not start before its earliest, and its latest is before that."
