"""How much of what was mixed is in which pane, and what went into a mix: shares by volume, exact.

A pane's share of a mix is the volume that its steps put on it, of all that was mixed; what was left in the jug is in no
pane. A mix that went into another is in its panes by the amount that went in.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from jobs.work.bench import MixState
from jobs.work.kept import mixed_ml
from jobs.work.ticket_plan import TicketIngredient, TicketMix, TicketPlan, TicketStep, is_of


@dataclass(frozen=True, kw_only=True)
class Portion:
    """How much of a lot is in something, in its stock unit: recorded at the mix, and at most, if it was that lot."""

    recorded: Fraction = Fraction(0)
    possible: Fraction = Fraction(0)

    @property
    def is_certain(self) -> bool:
        return self.recorded > 0

    @property
    def most(self) -> Fraction:
        return self.recorded + self.possible

    def __add__(self, other: Portion) -> Portion:
        return Portion(recorded=self.recorded + other.recorded, possible=self.possible + other.possible)

    def times(self, share: Fraction) -> Portion:
        return Portion(recorded=self.recorded * share, possible=self.possible * share)

    def of(self, inner: Portion) -> Portion:
        """Return this much of a lot as so much of what each unit of it holds."""
        recorded = self.recorded * inner.recorded
        return Portion(recorded=recorded, possible=self.most * inner.most - recorded)


NOTHING = Portion()
#: by lot
Contents = dict[int, Portion]


def volume_ml(state: MixState) -> Fraction:
    """Return how much of a batch there was, in mL: mixed, or taken from a lot mixed ahead; 0 while neither."""
    return state.mix.volume_ml if state.lot is not None else mixed_ml(state)


def contents_of(
    mixes: Sequence[MixState], numbered: Mapping[str, int], taken: Mapping[str, Sequence[tuple[int, Fraction]]] | None,
) -> dict[str, Contents]:
    """Return what went into each batch, by making and lot, what went in with other mixes of the ticket included.

    numbered: lots by their number. taken: by material code, what the ledger took beyond what was recorded at a mix;
    None while it took nothing yet: then it may be the lots that the ticket says.
    """
    found = {state.key: _direct(state, numbered, taken) for state in mixes}
    for state in mixes:  # nested before what they go into
        mine = found[state.key]
        for row in state.mix.ingredients if state.made else ():
            inside, there_ml = nested(row, state.mix, mixes) if not row.code else ([], Fraction(0))
            for child in inside:
                share = Fraction(state.amount_of(row.number)) / there_ml
                for lot, portion in found[child.key].items():
                    mine[lot] = mine.get(lot, NOTHING) + portion.times(share)
    return found


def _direct(
    state: MixState, numbered: Mapping[str, int], taken: Mapping[str, Sequence[tuple[int, Fraction]]] | None,
) -> Contents:
    found: Contents = {}

    def add(lot: int | None, portion: Portion) -> None:
        if lot is not None:
            found[lot] = found.get(lot, NOTHING) + portion

    if state.lot is not None:
        add(state.lot, Portion(recorded=state.mix.volume_ml))
    for row in state.mix.ingredients if state.made else ():
        amount = Fraction(state.amount_of(row.number))
        if not row.code or amount <= 0:
            continue
        if state.lots.get(row.number):
            for number, part in state.lots[row.number]:
                add(numbered.get(number), Portion(recorded=Fraction(part)))
        elif taken is None:
            for pick in row.picks:
                add(numbered.get(pick.lot_number), Portion(possible=Fraction(pick.amount)))
        else:
            for lot, most in taken.get(row.code, ()):
                add(lot, Portion(possible=min(amount, most)))
    return found


def planned_lots(state: MixState, numbered: Mapping[str, int]) -> Contents:
    """Return what a batch that nobody recorded yet is to be mixed from, as its ticket says."""
    found: Contents = {}
    for row in state.mix.ingredients:
        for pick in row.picks:
            if (lot := numbered.get(pick.lot_number)) is not None:
                found[lot] = found.get(lot, NOTHING) + Portion(possible=Fraction(pick.amount))
    return found


def nested(
    row: TicketIngredient, into: TicketMix, mixes: Sequence[MixState],
) -> tuple[list[MixState], Fraction]:
    """Return the batches of the ticket that an ingredient of a mix is of, and how much of them there was, in mL.

    Those made for just this mix, where there are; else what serves the whole job.
    """
    number, _, batch = into.key.partition("b")
    there = [state for state in mixes if state.mix is not into and _is_nested(row, state.mix) and volume_ml(state) > 0]
    mine = [state for state in there if state.mix.inside == number]
    if mine and all(state.mix.batches == into.batches for state in mine):
        mine = [state for state in mine if str(state.mix.batch) == batch] or mine
    chosen = mine or [state for state in there if not state.mix.inside] or there
    return chosen, sum((volume_ml(state) for state in chosen), Fraction(0))


def _is_nested(row: TicketIngredient, mix: TicketMix) -> bool:
    if row.solution_key and mix.solution_key:
        return row.solution_key == mix.solution_key
    return not row.code and row.name == mix.solution


def shares_by_pane(
    plan: TicketPlan, mixes: Sequence[MixState], not_started: frozenset[str] = frozenset(),
) -> dict[str, dict[str, Fraction]]:
    """Return the share of each batch that went on each pane, by making and pane label. Nothing went on one that was
    not started.
    """
    shares: dict[str, dict[str, Fraction]] = {state.key: {} for state in mixes}
    there = [state for state in mixes if volume_ml(state) > 0]
    together: dict[tuple[object, ...], list[MixState]] = defaultdict(list)
    for state in there:
        if not state.mix.inside:
            together[_serves(state.mix)].append(state)
    for makings in together.values():
        poured = _poured_ml(makings[0].mix, plan, not_started)
        whole = max(sum((volume_ml(state) for state in makings), Fraction(0)), sum(poured.values(), Fraction(0)))
        for state in makings:
            shares[state.key] = {label: volume / whole for label, volume in poured.items()}
    for state in reversed(there):
        for row in state.mix.ingredients if state.made else ():
            inside, there_ml = nested(row, state.mix, mixes) if not row.code else ([], Fraction(0))
            for child in inside:
                into = Fraction(state.amount_of(row.number)) / there_ml
                mine = shares[child.key]
                for label, share in shares[state.key].items():
                    mine[label] = mine.get(label, Fraction(0)) + into * share
    return shares


def _serves(mix: TicketMix) -> tuple[object, ...]:
    """Return what batches have in common that serve the same panes together."""
    return mix.solution_key or mix.solution, mix.strength, mix.mixed_for, mix.recipe, mix.step, mix.load, mix.pane


def _poured_ml(mix: TicketMix, plan: TicketPlan, not_started: frozenset[str]) -> dict[str, Fraction]:
    areas = {pane.label: pane.area_m2 for pane in plan.panes}
    found: dict[str, Fraction] = {}
    for recipe in plan.recipes:
        if mix.recipe and recipe.key != mix.recipe:
            continue
        for step in recipe.steps:
            if mix.step is not None and step.number != mix.step:
                continue
            share = sum((part.share for part in step.parts if part.mixed_for == mix.mixed_for
                         and part.strength == mix.strength and is_of(part, mix)), Fraction(0))
            for load in recipe.loads if share else ():
                if mix.load is not None and not mix.serves(load.number):
                    continue
                for label, volume in _on_panes(step, load.number, load.panes, areas).items():
                    if label not in not_started and mix.pane in ("", label):
                        found[label] = found.get(label, Fraction(0)) + volume * share
    return found


def _on_panes(
    step: TicketStep, load: int, panes: Sequence[str], areas: Mapping[str, Fraction],
) -> Mapping[str, Fraction]:
    """Return what a step puts on each pane of a load, in mL; on tickets that do not say, by the panes' areas."""
    said = step.volume_per_pane_ml.get(str(load))
    if said:
        return said
    whole = sum((areas[label] for label in panes), Fraction(0))
    of_load = step.volume_per_load_ml.get(str(load), Fraction(0))
    return {label: of_load * areas[label] / whole for label in panes} if whole else {}
