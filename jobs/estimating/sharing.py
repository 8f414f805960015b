"""Which loads share a mix: as many consecutive ones as its working time and the largest vessel allow.

From the beginning of mixing to the end of the last use in the last of its loads, by the timetable, no shared mix stands
longer than its working time; ammoniacal silver not longer than the studio's limit until it is made safe after that
load. What is mixed for several loads is one batch of one vessel.

Mixes stand in the timetable and the timetable says which loads may share, so both are worked out by turns: all loads of
a recipe share at first; by the timetable of that, in order, a mix is made afresh with the first load that comes too
late, that its vessel does not serve, or that the timetable has before the load it would follow; and again, until the
timetable of the mixes cuts nothing more. What comes after a cut is looked at afresh, a few times; from then on cuts are
only added, so it ends, at the latest with a mix for each load.
A solution nested in others that one load alone does not use up in time is mixed for each of their batches there.
It may share less than could be; never more. Source: the studio's own working times, and its limit.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from fractions import Fraction

from jobs.estimating.basis import House
from jobs.estimating.loads import Load
from jobs.estimating.mixes import Mix, SharedKey, Sharing, batch_volumes_ml, plan_mixes
from jobs.estimating.timetable import StepTime, Timetable, mixing_of, timetable
from jobs.estimating.volumes import Need
from recipes.facts import RecipeFacts, Shelf
from recipes.finishes.hand_order import may_wait_after, mixed_before
from recipes.solutions.rules import is_never_stored, shared_for_minutes
from recipes.step_kinds import kind_of

#: how often what comes after a cut is grouped afresh
REGROUPED = 8


class UseOfMixes:
    """When the loads of a timetable begin to mix for a step, use what was mixed, and make it safe; in minutes."""

    def __init__(self, table: Timetable, recipes: Sequence[RecipeFacts]) -> None:
        self.recipes = {recipe.key: recipe for recipe in recipes}
        self.steps: dict[tuple[str, int], dict[tuple[int, bool], StepTime]] = {
            (of_load.recipe, of_load.load): {(step.step, step.only_mixing): step for step in of_load.steps}
            for of_load in table.loads
        }

    def begins(self, mix: Mix, load: int, house: House) -> Fraction:
        """Return when mixing begins, if it is mixed with this load: at the start of all that is mixed for its step.

        With a load that does not mix it now, so much earlier as mixing it takes.
        """
        times, steps = self.steps[mix.recipe, load], self.recipes[mix.recipe].steps
        at = next(place for place, step in enumerate(steps) if step.number == mix.step)
        before = steps[mixed_before(steps)[at]].number
        mixing = times.get((mix.step or 0, True))
        starts = times[before, False].starts if mixing is None else mixing.starts
        return starts if load == mix.load else starts - mix.minutes(house)

    def starts(self, mix: Mix, load: int) -> Fraction:
        """Return when a load begins to use it."""
        return self.steps[mix.recipe, load][mix.step or 0, False].starts

    def ends(self, mix: Mix, load: int) -> Fraction:
        """Return when a load has used it: at the end of its step; of one that dries, at the end of the work."""
        time = self.steps[mix.recipe, load][mix.step or 0, False]
        step = next(step for step in self.recipes[mix.recipe].steps if step.number == mix.step)
        return time.starts + time.work_minutes if may_wait_after(step) else time.ends

    def made_safe(self, mix: Mix, load: int) -> Fraction:
        """Return when what a load left of it is made safe: at the end of the next such step, else of its use."""
        steps = self.recipes[mix.recipe].steps
        at = next(place for place, step in enumerate(steps) if step.number == mix.step)
        safe = next((step.number for step in steps[at:] if kind_of(step.kind).makes_safe), None)
        ends = self.ends(mix, load)
        return ends if safe is None else max(ends, self.steps[mix.recipe, load][safe, False].ends)


def plan_shared_mixes(
    needs: Sequence[Need], recipes: Sequence[RecipeFacts], loads: Mapping[str, Sequence[Load]], shelf: Shelf,
    house: House,
) -> list[Mix]:
    """Return every mix of the job, what loads share shared as far as time and vessel allow.

    recipes: with their steps in the order of the bench. Raises as `plan_mixes` does.
    """
    direct = {(need.recipe, need.step, need.solution, need.strength) for need in needs if need.mixed_for == "loads"}
    cuts: dict[SharedKey, set[int]] = defaultdict(set)
    apart: set[tuple[SharedKey, int]] = set()
    passes = 0
    while True:
        mixes = plan_mixes(needs, shelf, house, Sharing(cuts=cuts, apart=apart))
        shared = [mix for mix in mixes if mix.shared]
        if all(len(mix.shared) == 1 and mix.shared_key in direct for mix in shared):
            return mixes
        table = timetable(recipes, loads, house.hands, house.benches, mixing_of(mixes, house))
        use = UseOfMixes(table, recipes)
        passes += 1
        changed: set[SharedKey] = set()
        for mix in shared:
            if mix.shared_key in changed and passes <= REGROUPED:
                continue  # loads after an earlier cut are looked at again
            firsts = _firsts(mix, use, shelf, house)
            late = set() if mix.shared_key in direct else {
                (mix.shared_key, load) for load in firsts if not in_time(mix, load, load, use, shelf, house)}
            if firsts[1:] and passes <= REGROUPED:
                cuts[mix.shared_key] = {cut for cut in cuts[mix.shared_key] if cut < firsts[1]}
            if firsts[1:] or late:
                changed.add(mix.shared_key)
            cuts[mix.shared_key] |= set(firsts[1:])
            apart |= late
        if not changed:
            return mixes


def _firsts(mix: Mix, use: UseOfMixes, shelf: Shelf, house: House) -> list[int]:
    """Return the loads with which a mix is made, in order: its first, and those for which it is made afresh."""
    found = [mix.shared[0].load]
    before, volume = mix.shared[0].load, mix.shared[0].needed_ml
    for share in mix.shared[1:]:
        volume += share.needed_ml
        fits = len(batch_volumes_ml(volume, mix.solution.minimum_batch_ml, house)) == 1
        follows = use.starts(mix, share.load) >= use.starts(mix, before)
        if not (fits and follows and in_time(mix, found[-1], share.load, use, shelf, house)):
            found.append(share.load)
            volume = share.needed_ml
        before = share.load
    return found


def in_time(mix: Mix, first: int, last: int, use: UseOfMixes, shelf: Shelf, house: House) -> bool:
    """Say whether a mix that is mixed with one load may still be used by another."""
    works = shared_for_minutes(mix.solution, shelf)
    begins = use.begins(mix, first, house)
    if works is None or use.ends(mix, last) - begins > works:
        return False
    if not is_never_stored(mix.solution.key, shelf):
        return True
    return use.made_safe(mix, last) - begins <= shelf.ammoniacal_limit_minutes
