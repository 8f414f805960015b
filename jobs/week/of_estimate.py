"""What one job asks of the calendar, from its estimate: works, loads with their stretches, mixes. Pure: no Django.

The order of work is that of the ticket (`jobs.estimating.timetable`, `recipes.finishes.hand_order`): a load goes
through stretches, a mix is made before the step that it goes into, and before what lets wet glass wait for it. Minutes
are rounded up to five. Steps that follow each other at once, by the same hands, are one work, up to an hour and a half.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from fractions import Fraction

from jobs.calendar.asked import DAY_MINUTES, GRID_MINUTES, LoadAsked, MixAsked, MixUse, StretchAsked, WorkAsked
from jobs.estimating.basis import House
from jobs.estimating.estimate import Estimate, in_order_of_the_bench
from jobs.estimating.loads import Load
from jobs.estimating.mixes import Mix
from jobs.estimating.timetable import mixing_of, work_and_dwell
from recipes.facts import RecipeFacts, Shelf, StepFacts
from recipes.finishes.hand_order import may_wait_after, mixed_before
from recipes.solutions.rules import agents_within, is_never_stored, shared_for_minutes
from recipes.step_kinds import kind_of

#: cutting, edging and packing are done in pieces of at most so long, and steps make a work of at most so long
PIECE_MINUTES = 90
#: what wet glass may wait beyond what its steps ask, for hands that are elsewhere
SLACK_MINUTES = 10
#: what is worked pane after pane may rest so long between two: a pane that waits its turn waits longer
TURN_MINUTES = 60
#: how long what must be used at once may stand, where its version does not say
AT_ONCE_MINUTES = 15
LONGEST_KEEPING_MINUTES = 60 * DAY_MINUTES


def on_the_grid(minutes: Fraction | int) -> int:
    """Return minutes rounded up to five."""
    return int(-(-Fraction(minutes) // GRID_MINUTES)) * GRID_MINUTES


def in_pieces(minutes: Fraction) -> tuple[WorkAsked, ...]:
    """Return work that may stop at any time, in pieces."""
    rest, found = on_the_grid(minutes), []
    while rest > 0:
        found.append(WorkAsked(minutes=min(rest, PIECE_MINUTES)))
        rest -= found[-1].minutes
    return tuple(found)


@dataclass(frozen=True, kw_only=True)
class StretchNote:
    """What a stretch is, for a page: its load, and what each of its works is, with the numbers of their steps."""

    load: str
    load_number: int
    finish: str
    panes: int
    works: tuple[str, ...]
    steps: tuple[tuple[int, ...], ...]
    mixes: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Recorded:
    """What of a job was recorded on the bench: steps done by load and number with their time, and mixes made."""

    done: Mapping[tuple[str, int], datetime] = field(default_factory=dict)
    mixed: Collection[str] = ()
    begun: bool = False

    def is_done(self, anchor: str, steps: Sequence[int]) -> bool:
        return all((anchor, number) in self.done for number in steps)

    def last_of(self, anchor: str) -> datetime | None:
        return max((at for (load, _), at in self.done.items() if load == anchor), default=None)


@dataclass(frozen=True, kw_only=True)
class AskedOfJob:
    """Works before the bench and after it, loads, mixes, and what each stretch is."""

    before: tuple[WorkAsked, ...]
    after: tuple[WorkAsked, ...]
    loads: tuple[LoadAsked, ...]
    mixes: tuple[MixAsked, ...]
    notes: Mapping[str, StretchNote]
    cure_minutes: int
    #: of a stretch whose load was worked on already: since when it waits, and for how many minutes at least
    waits_since: Mapping[str, tuple[datetime, int]] = field(default_factory=dict)


@dataclass(kw_only=True)
class _Work:
    """A work that is being put together. mixing: minutes of mixes that are made before it."""

    minutes: Fraction
    owner: bool
    never_alone: bool
    steps: list[StepFacts]
    wait: Fraction = Fraction(0)
    mixing: Fraction = Fraction(0)
    closed: bool = False
    #: the same step goes on after it, with the next panes
    goes_on: bool = False

    def takes(self, step: StepFacts, minutes: Fraction, owner: bool, never_alone: bool) -> bool:
        """Say whether a step follows at once, by the same hands, and is of the same work."""
        return (not self.closed and self.wait == 0 and (self.owner, self.never_alone) == (owner, never_alone)
                and self.minutes + minutes <= PIECE_MINUTES)


@dataclass(kw_only=True)
class _Stretch:
    works: list[_Work] = field(default_factory=list)
    wait: Fraction = Fraction(0)


def asked_of(job: str, estimate: Estimate, *, two_pairs: bool, recorded: Recorded | None = None) -> AskedOfJob:
    """Return what a job asks, under its id. two_pairs: somebody else is there to lift a heavy pane with.

    recorded: of a job on the bench, of which only what is left is asked.
    """
    recorded, house = recorded or Recorded(), estimate.basis.house
    by_step = _mixes_of_loads(estimate.mixes)
    loads: list[LoadAsked] = []
    mixes: dict[str, MixAsked] = {}
    notes: dict[str, StretchNote] = {}
    since: dict[str, tuple[datetime, int]] = {}
    mixing = mixing_of(estimate.mixes, house)
    for at, recipe in enumerate(in_order_of_the_bench(estimate.basis), start=1):
        before = mixed_before(recipe.steps)
        for load in estimate.loads[recipe.key]:
            anchor = f"r{at}l{load.number}"
            mixed_at = {
                place: mine for place in range(len(recipe.steps))
                if (mine := [(step.number, mix) for step, first in zip(recipe.steps, before, strict=True)
                             for mix in by_step.get((recipe.key, load.number, step.number), ()) if first == place])
            }
            by_pane = {step.number: mixing.by_pane.get((recipe.key, load.number, step.number), Fraction(0))
                       for step in recipe.steps}
            found = _stretches(recipe, load, mixed_at, by_pane, estimate.basis.shelf, house)
            two = two_pairs and house.two_person_kg > 0 and any(
                pane.size.pane_kg > house.two_person_kg for pane in load.panes)
            stretches: list[StretchAsked] = []
            waits = 0
            for number, stretch in enumerate(found, start=1):
                key = f"{job}.{anchor}.{number}"
                asked, of_stretch = _asked(key, job, stretch, mixed_at, recipe, load, estimate, two)
                left, note = _what_is_left(asked, _note(anchor, load, recipe, stretch, of_stretch), recorded)
                for mix in of_stretch:
                    mixes.setdefault(mix.key, mix)
                if left is None:
                    waits = asked.wait_least_minutes
                    continue
                if not stretches and (done := recorded.last_of(anchor)) is not None:
                    since[key] = (done, waits)
                stretches.append(left)
                notes[key] = note
            if stretches:
                loads.append(LoadAsked(id=f"{job}.{anchor}", jobs=(job,), stretches=tuple(stretches)))
    used = {use.key for load in loads for stretch in load.stretches for use in stretch.mixes}
    pooled = sum((mix.minutes(house) for mix in estimate.mixes if _is_of_the_job(mix)), Fraction(0))
    ahead = () if recorded.begun else in_pieces(estimate.before_bench_minutes + pooled)
    panes = sum(line.quantity for line in estimate.basis.lines)
    return AskedOfJob(
        before=ahead, after=in_pieces(house.packing_minutes_per_pane * panes), loads=tuple(loads),
        mixes=tuple(mix for key, mix in mixes.items() if key in used), notes=notes,
        cure_minutes=on_the_grid(house.cure_hours * 60) if loads else 0, waits_since=since,
    )


def _is_of_the_job(mix: Mix) -> bool:
    """Say whether a mix is made once, ahead of all loads: what keeps, pooled over the job."""
    return mix.load is None or mix.step is None


def _mixes_of_loads(mixes: Sequence[Mix]) -> dict[tuple[str, int, int], list[Mix]]:
    """Return the mixes that each load takes of in a step, those shared with the first of their loads among them."""
    found: dict[tuple[str, int, int], list[Mix]] = defaultdict(list)
    for mix in mixes:
        if _is_of_the_job(mix) or mix.pane or mix.parent_mix is not None:
            continue
        assert mix.load is not None
        for load in [share.load for share in mix.shared] or [mix.load]:
            found[mix.recipe, load, mix.step or 0].append(mix)
    return found


def _stretches(
    recipe: RecipeFacts, load: Load, mixed_at: Mapping[int, Sequence[tuple[int, Mix]]], by_pane: Mapping[int, Fraction],
    shelf: Shelf, house: House,
) -> Iterator[_Stretch]:
    """Yield a load's stretches with their works, as the ticket's timetable has them."""
    now = _Stretch()
    waits, dry, offset = False, Fraction(0), Fraction(0)
    for at, step in enumerate(recipe.steps):
        work, dwell = work_and_dwell(step, load)
        work += by_pane.get(step.number, Fraction(0))
        safe = kind_of(step.kind).makes_safe
        waits = may_wait_after(step) or (waits and safe)
        safe_next = at + 1 < len(recipe.steps) and kind_of(recipe.steps[at + 1].kind).makes_safe
        alone = any("fluoride" in agents_within(part.solution, shelf) for part in step.parts)
        mixing = sum((mix.minutes(house) for _, mix in mixed_at.get(at, ())), Fraction(0))
        owner = step.hands == "owner"
        if now.works and at not in mixed_at and now.works[-1].takes(step, work, owner, alone):
            now.works[-1].minutes += work
            now.works[-1].steps.append(step)
        elif now.works and not work and at not in mixed_at:
            now.works[-1].steps.append(step)
        else:
            pieces = _turns(step, work, len(load.panes), bool(by_pane.get(step.number)))
            for piece in range(pieces):
                now.works.append(_Work(minutes=work / pieces, owner=owner, never_alone=alone, steps=[step],
                                       mixing=Fraction(0) if piece else mixing, goes_on=piece + 1 < pieces))
        now.works[-1].closed = safe
        offset += work
        if waits or at + 1 == len(recipe.steps):
            dry = max(dry, offset + dwell)
        else:
            offset += dwell
            now.works[-1].wait += dwell
        if (waits and not safe_next) or at + 1 == len(recipe.steps):
            now.wait = max(dry - offset, Fraction(0))
            yield now
            now, dry, offset = _Stretch(), Fraction(0), Fraction(0)


def _turns(step: StepFacts, work: Fraction, panes: int, by_pane: bool) -> int:
    """Return into how many pieces a step falls that is worked pane after pane, each pane wholly in one of them."""
    if not (by_pane or step.dwells_by_pane) or work <= PIECE_MINUTES:
        return 1
    in_a_piece = max(int(PIECE_MINUTES // (work / panes)), 1)
    return -(-panes // in_a_piece)


def _asked(
    key: str, job: str, stretch: _Stretch, mixed_at: Mapping[int, Sequence[tuple[int, Mix]]], recipe: RecipeFacts,
    load: Load, estimate: Estimate, two: bool,
) -> tuple[StretchAsked, list[MixAsked]]:
    """Return a stretch as the calendar asks for it, and the mixes that it uses."""
    works = []
    for at, work in enumerate(stretch.works):
        last = at + 1 == len(stretch.works)
        least = 0 if last else on_the_grid(work.wait)
        following = Fraction(0) if last else stretch.works[at + 1].mixing
        most = 0 if last else least + (on_the_grid(following) + SLACK_MINUTES if following or least else 0)
        most += TURN_MINUTES if work.goes_on else 0
        works.append(WorkAsked(
            minutes=max(on_the_grid(work.minutes), GRID_MINUTES), hands=2 if two else 1, owner=work.owner,
            never_alone=work.never_alone, wait_least_minutes=least, wait_most_minutes=most,
        ))
    place_of = {step.number: at for at, work in reversed(list(enumerate(stretch.works))) for step in work.steps}
    safe = next((at for at, work in enumerate(stretch.works) for step in work.steps
                 if kind_of(step.kind).makes_safe), None)
    uses, mixes = [], []
    for place, mine in mixed_at.items():
        step = recipe.steps[place].number
        if step not in place_of:
            continue
        together = sum((mix.minutes(estimate.basis.house) for _, mix in mine), Fraction(0))
        for _, mix in mine:
            asked = _mix(job, mix, estimate, together, safe is not None)
            share = next((share.needed_ml for share in mix.shared if share.load == load.number), mix.made_ml)
            uses.append(MixUse(key=asked.key, ml=max(int(-(-share // 1)), 1), first_work=place_of[step],
                               safe_work=safe if asked.safe_within_minutes is not None else None))
            mixes.append(asked)
    return StretchAsked(
        id=key, works=tuple(works), wait_least_minutes=on_the_grid(stretch.wait), mixes=tuple(uses),
        name=f"{recipe.finish}, load {load.number}",
    ), mixes


def _mix(job: str, mix: Mix, estimate: Estimate, together: Fraction, is_made_safe: bool) -> MixAsked:
    """Return a mix as the calendar asks for it, with what is mixed for it alone. together: minutes at its place."""
    house, shelf, solution = estimate.basis.house, estimate.basis.shelf, mix.solution
    nested = sum((child.minutes(house) for child in estimate.mixes if child.parent_mix == mix.number), Fraction(0))
    working = shared_for_minutes(solution, shelf) or solution.working_minutes
    keeps = solution.keeps_minutes or (working if working is not None else Fraction(AT_ONCE_MINUTES)) + together
    used = sum((share.needed_ml for share in mix.shared), Fraction(0))
    stands = is_never_stored(solution.key, shelf) and is_made_safe
    return MixAsked(
        key=f"{job}.m{mix.number}", minutes=max(on_the_grid(mix.minutes(house) + nested), GRID_MINUTES),
        keeps_minutes=min(on_the_grid(keeps), LONGEST_KEEPING_MINUTES),
        most_ml=int(-(-max(mix.made_ml, used) // 1)) + 1,
        shared="job" if len(mix.shared) > 1 else "no",
        safe_within_minutes=shelf.ammoniacal_limit_minutes // GRID_MINUTES * GRID_MINUTES if stands else None,
        name=solution.name,
    )


def _note(anchor: str, load: Load, recipe: RecipeFacts, stretch: _Stretch, mixes: Sequence[MixAsked]) -> StretchNote:
    return StretchNote(
        load=anchor, load_number=load.number, finish=recipe.finish, panes=len(load.panes),
        works=tuple(", ".join(dict.fromkeys(step.name or step.kind for step in work.steps)) for work in stretch.works),
        steps=tuple(tuple(step.number for step in work.steps) for work in stretch.works),
        mixes={mix.key: mix.called for mix in mixes},
    )


def _what_is_left(
    asked: StretchAsked, note: StretchNote, recorded: Recorded,
) -> tuple[StretchAsked | None, StretchNote]:
    """Return a stretch without the works that are done, and without the mixes that are made; None: all of it is."""
    first = next((at for at, steps in enumerate(note.steps) if not recorded.is_done(note.load, steps)), None)
    if first is None:
        return None, note
    uses = tuple(
        replace(use, first_work=max(use.first_work - first, 0),
                safe_work=None if use.safe_work is None else max(use.safe_work - first, 0))
        for use in asked.mixes if use.key.rpartition(".")[2] not in recorded.mixed and use.first_work >= first
    )
    return (
        replace(asked, works=asked.works[first:], mixes=uses),
        replace(note, works=note.works[first:], steps=note.steps[first:]),
    )
