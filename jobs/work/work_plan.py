"""The work plan of a ticket: cards in the order of the hand, a mix always above the step that needs it. Pure.

What is mixed for the whole job comes first, then load by load what is mixed and done. Ticket, bench and run page read
this one order; it is worked out from the ticket as it was printed and adds nothing to it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import count

from jobs.estimating.timetable import StepTime
from jobs.work.pane_meetings import is_ammoniacal, meetings_of
from jobs.work.ticket_plan import (
    TicketIngredient,
    TicketLoad,
    TicketMix,
    TicketPart,
    TicketPlan,
    TicketRecipe,
    TicketStep,
    is_of,
    load_anchor,
)
from recipes.finishes.hand_order import letter, mixed_before
from recipes.step_kinds import kind_of


@dataclass(frozen=True, kw_only=True)
class CautionsSaid:
    """A card's cautions on a load's side: the mixes above it that say some of them already, and what is left to say."""

    at: tuple[str, ...] = ()
    words: str = ""


@dataclass(frozen=True, kw_only=True)
class MixCard:
    """One solution at one strength, mixed once or several times alike but for the amounts: batches, or pane by pane.

    letter: its name on this ticket. step: the first step that needs it. goes_into: letters of mixes it goes into.
    """

    letter: str
    makings: tuple[TicketMix, ...]
    step: int | None = None
    goes_into: tuple[str, ...] = ()

    cautions: CautionsSaid = CautionsSaid()
    #: what goes into it that is mixed on this ticket, by solution: the mix's letter, and its load if an earlier one
    sources: dict[str, tuple[str, int | None]] = field(default_factory=dict)
    #: when mixing for its step begins, at the first of the mixes for it
    time: StepTime | None = None

    is_mix = True

    @property
    def mix(self) -> TicketMix:
        return self.makings[0]

    @property
    def starts_clock(self) -> bool:
        """Say whether it is ammoniacal silver, whose time begins when it is mixed."""
        return is_ammoniacal(self.mix)

    @property
    def made_ml(self) -> Fraction:
        return sum((making.volume_ml for making in self.makings), Fraction(0))

    @property
    def alike(self) -> bool:
        """Say whether every making is the same, so that its amounts are said once."""
        return all(
            making.volume_ml == self.mix.volume_ml
            and [row.to_measure for row in making.ingredients] == [row.to_measure for row in self.mix.ingredients]
            for making in self.makings
        )

    @property
    def rows(self) -> list[list[TicketIngredient]]:
        """Return each ingredient with its amount in every making."""
        return [[making.ingredients[at] for making in self.makings] for at in range(len(self.mix.ingredients))]


@dataclass(frozen=True, kw_only=True)
class Poured:
    """What a step takes of one mix: for the load and for each pane.

    left_ml: of what was mixed for it; None: of the whole job's, or of what a later load shares. mixed_with: the earlier
    load that it was mixed with.
    """

    mix: MixCard | None
    part: TicketPart
    load_ml: Fraction
    pane_ml: dict[str, Fraction] = field(default_factory=dict)
    left_ml: Fraction | None = None
    mixed_with: int | None = None

    @property
    def letter(self) -> str:
        return self.mix.letter if self.mix else ""

    @property
    def panes_alike(self) -> list[tuple[list[str], Fraction]]:
        """Return the panes with what each takes, those alike together."""
        found: dict[Fraction, list[str]] = {}
        for label, volume in self.pane_ml.items():
            found.setdefault(volume, []).append(label)
        return [(labels, volume) for volume, labels in found.items()]


@dataclass(frozen=True, kw_only=True)
class StepCard:
    """A step of a load with what it takes of which mix. starts_clock: silver and ammonia first meet on its panes.

    time: its place in the timetable; tickets of before had none. stays: ammoniacal silver that later loads still take
    of, where this step makes safe; ends: what was mixed with an earlier load and is made safe in this step.
    """

    step: TicketStep
    poured: tuple[Poured, ...] = ()
    time: StepTime | None = None
    starts_clock: bool = False
    cautions: CautionsSaid = CautionsSaid()
    load: int = 0
    stays: tuple[MixCard, ...] = ()
    ends: tuple[MixCard, ...] = ()

    is_mix = False


@dataclass(frozen=True, kw_only=True)
class LoadPlan:
    """One load from its first mix to its last step. anchor: its name on the ticket and in addresses, r1l2.

    carried: what was mixed with earlier loads and this one takes of.
    """

    anchor: str
    recipe: TicketRecipe
    load: TicketLoad
    cards: tuple[MixCard | StepCard, ...]
    carried: tuple[MixCard, ...] = ()

    @property
    def mixes(self) -> list[MixCard]:
        return [card for card in self.cards if isinstance(card, MixCard)]

    @property
    def steps(self) -> list[StepCard]:
        return [card for card in self.cards if isinstance(card, StepCard)]


@dataclass(frozen=True, kw_only=True)
class WorkPlan:
    whole_job: tuple[MixCard, ...]
    loads: tuple[LoadPlan, ...]

    @property
    def cards(self) -> Iterable[MixCard | StepCard]:
        """Yield every card in the order of the hand."""
        yield from self.whole_job
        for load in self.loads:
            yield from load.cards


def work_plan(plan: TicketPlan) -> WorkPlan:
    """Return a ticket's cards in the order of the hand."""
    whole_job = _job_cards(plan)
    times = {
        (load.recipe, load.load, step.step, step.only_mixing): step
        for load in (plan.timetable.loads if plan.timetable else ()) for step in load.steps
    }
    clocks = {meeting.key for meeting in meetings_of(plan)}
    loads: list[LoadPlan] = []
    for number, recipe in enumerate(plan.recipes, start=1):
        shared: list[MixCard] = []
        for load in recipe.loads:
            carried = [card for card in shared if card.mix.serves(load.number)]
            loads.append(_load_plan(
                load_anchor(number, load.number), recipe, load, plan, whole_job, carried, times, clocks))
            shared += [card for card in loads[-1].mixes if card.mix.shared_ml]
    mixes = [card for load in loads for card in load.mixes]
    return WorkPlan(loads=tuple(loads), whole_job=tuple(
        replace(card, goes_into=tuple(dict.fromkeys([
            *card.goes_into, *(other.letter for other in mixes if _takes(other.mix, card.mix)),
        ])))
        for card in whole_job
    ))


def _grouped(mixes: Iterable[TicketMix]) -> list[list[TicketMix]]:
    """Return mixes with their further batches, and those of the other panes, in one group each; order kept."""
    groups: dict[tuple[object, ...], list[TicketMix]] = {}
    for mix in mixes:
        groups.setdefault(_key(mix), []).append(mix)
    return list(groups.values())


def _job_cards(plan: TicketPlan) -> list[MixCard]:
    groups = _grouped(mix for mix in plan.mixes if mix.load is None)
    letters = {_name(group[0]): letter(at) for at, group in enumerate(groups)}
    return [
        MixCard(letter=letters[_name(group[0])], makings=tuple(group), step=_first_step(plan, group[0]),
                cautions=CautionsSaid(words=group[0].cautions),
                goes_into=tuple(dict.fromkeys(
                    letters[_name(other[0])] for other in groups if _takes(other[0], group[0])
                )))
        for group in groups
    ]


def _name(mix: TicketMix) -> tuple[object, ...]:
    return mix.solution_key or mix.solution, mix.version, mix.strength


def _takes(mix: TicketMix, nested: TicketMix) -> bool:
    """Say whether a mix has another, at its full strength, among its ingredients."""
    return nested.strength == 1 and any(
        not row.code and (row.solution_key == nested.solution_key if row.solution_key else row.name == nested.solution)
        for row in mix.ingredients
    )


def _is_of(part: TicketPart, mix: TicketMix) -> bool:
    return is_of(part, mix) and part.strength == mix.strength


def _first_step(plan: TicketPlan, mix: TicketMix) -> int | None:
    return next((
        step.number for recipe in plan.recipes for step in recipe.steps for part in step.parts
        if part.mixed_for == "job" and _is_of(part, mix)
    ), None)


def _load_plan(
    anchor: str, recipe: TicketRecipe, load: TicketLoad, plan: TicketPlan, whole_job: Sequence[MixCard],
    carried: Sequence[MixCard], times: Mapping[tuple[str, int, int, bool], StepTime], clocks: Set[str],
) -> LoadPlan:
    mine = [mix for mix in plan.mixes if mix.recipe == recipe.key and mix.load == load.number]
    before = mixed_before(recipe.steps)
    mixed: dict[int, list[list[TicketMix]]] = {}
    for at, step in enumerate(recipe.steps):
        for group in _grouped(mix for mix in mine if mix.step == step.number):
            # what works at once is combined when the pane is ready for it
            mixed.setdefault(at if group[0].pane else before[at], []).append(group)
    ordered = [group for at in sorted(mixed) for group in mixed[at]]
    taken = {card.letter for card in carried}
    free = (name for at in count(len(whole_job)) if (name := letter(at)) not in taken)
    letters = {_key(group[0]): name for group, name in zip(ordered, free, strict=False)}
    cards: list[MixCard | StepCard] = []
    said: dict[str, str] = {}
    for at, step in enumerate(recipe.steps):
        for group in mixed.get(at, []):
            cautions = _said(group[0].cautions, said)
            said |= {sentence: letters[_key(group[0])] for sentence in _sentences(cautions.words)}
            cards.append(MixCard(
                cautions=cautions, time=_begins(group[0], cards, times),
                letter=letters[_key(group[0])], makings=tuple(group), step=group[0].step,
                sources=_sources(group[0], [*whole_job, *carried, *(c for c in cards if isinstance(c, MixCard))]),
                goes_into=tuple(dict.fromkeys(
                    letters[_key(other[0])] for other in ordered
                    if other[0].step == group[0].step and _is_for_mixes(group[0])
                    and _takes(other[0], group[0])
                )),
            ))
        cards.append(StepCard(
            step=step, time=times.get((recipe.key, load.number, step.number, False)),
            poured=tuple(_poured(step, load, part, whole_job, [*carried, *cards]) for part in _parts_of(step)),
            starts_clock=f"{anchor}s{step.number}" in clocks, cautions=_said(step.cautions, said),
            load=load.number, **_made_safe_of(step, load, [*carried, *cards]),
        ))
    return LoadPlan(anchor=anchor, recipe=recipe, load=load, cards=tuple(cards), carried=tuple(carried))


def _sources(mix: TicketMix, cards: Sequence[MixCard]) -> dict[str, tuple[str, int | None]]:
    """Return which mixes above a mix takes of: by solution, the letter, and the load of one that was mixed earlier."""
    return {
        card.mix.solution_key: (card.letter, card.mix.load if card.mix.load not in (None, mix.load) else None)
        for card in cards if _takes(mix, card.mix)
        and (card.mix.load is None or (card.mix.step == mix.step and _is_for_mixes(card.mix)))
    }


def _is_for_mixes(mix: TicketMix) -> bool:
    """Say whether a load's mix goes into others, if they take of its solution: what keeps is pooled over the job."""
    return bool(mix.inside) or (bool(mix.shared_ml) and not mix.keeps)


def _made_safe_of(
    step: TicketStep, load: TicketLoad, cards: Sequence[MixCard | StepCard],
) -> dict[str, tuple[MixCard, ...]]:
    """Return which shared ammoniacal silver stays in use after a step that makes safe, and which ends with it."""
    if not kind_of(step.kind).makes_safe:
        return {}
    shared = [card for card in cards if isinstance(card, MixCard) and card.mix.shared_ml and card.starts_clock]
    return {
        "stays": tuple(card for card in shared if card.mix.last_load != load.number),
        "ends": tuple(card for card in shared
                      if card.mix.last_load == load.number and card.mix.load != load.number),
    }


def _begins(
    mix: TicketMix, cards: Sequence[MixCard | StepCard], times: Mapping[tuple[str, int, int, bool], StepTime],
) -> StepTime | None:
    """Return when mixing for a mix's step begins, where it is the first mix for it."""
    if mix.load is None or mix.step is None:
        return None
    follows = any(isinstance(card, MixCard) and card.step == mix.step for card in cards)
    return None if follows else times.get((mix.recipe, mix.load, mix.step, True))


def _sentences(words: str) -> list[str]:
    return [sentence.strip() for sentence in re.split(r"(?<=[.!])\s+", words.strip()) if sentence.strip()]


def _said(words: str, said: Mapping[str, str]) -> CautionsSaid:
    """Return what of these cautions a side says already, by whom, and what is left."""
    sentences = _sentences(words)
    return CautionsSaid(
        at=tuple(dict.fromkeys(said[sentence] for sentence in sentences if sentence in said)),
        words=" ".join(sentence for sentence in sentences if sentence not in said),
    )


def _key(mix: TicketMix) -> tuple[object, ...]:
    return *_name(mix), mix.mixed_for, mix.step, bool(mix.pane)


def _parts_of(step: TicketStep) -> list[TicketPart]:
    """Return a step's parts; those alike in solution, strength and purpose are one, and mixed as one."""
    found: dict[tuple[object, ...], TicketPart] = {}
    for part in step.parts:
        key = (part.solution_key or part.solution, part.strength, part.mixed_for)
        found[key] = replace(found[key], share=found[key].share + part.share) if key in found else part
    return list(found.values())


def _poured(
    step: TicketStep, load: TicketLoad, part: TicketPart, whole_job: Sequence[MixCard],
    cards: Sequence[MixCard | StepCard],
) -> Poured:
    """Return what a step takes of the mix that serves one of its parts.

    What is left is what was mixed for this step less what the panes take: the load's loss and the rounding.
    """
    key = str(load.number)
    pane_ml = {label: volume * part.share for label, volume in step.volume_per_pane_ml.get(key, {}).items()}
    load_ml = step.volume_per_load_ml.get(key, Fraction(0)) * part.share
    if part.mixed_for == "job":
        found = next((card for card in whole_job if _is_of(part, card.mix)), None)
        return Poured(mix=found, part=part, load_ml=load_ml, pane_ml=pane_ml)
    found = next((
        card for card in reversed(cards)
        if isinstance(card, MixCard) and card.step == step.number and _is_of(part, card.mix) and not card.mix.inside
        and card.mix.mixed_for == part.mixed_for
    ), None)
    if found is None:
        return Poured(mix=None, part=part, load_ml=load_ml, pane_ml=pane_ml)
    return Poured(
        mix=found, part=part, load_ml=load_ml, pane_ml=pane_ml, left_ml=_left_ml(found, step, load, part),
        mixed_with=found.mix.load if found.mix.load != load.number else None,
    )


def _left_ml(card: MixCard, step: TicketStep, load: TicketLoad, part: TicketPart) -> Fraction | None:
    """Return what is left of a mix once its last load took of it; None before that, or where panes hold no amounts."""
    loads = list(card.mix.shared_ml) or [load.number]
    if load.number != max(loads) or card.goes_into or not step.volume_per_pane_ml.get(str(load.number)):
        return None
    poured = sum((sum(step.volume_per_pane_ml.get(str(each), {}).values(), Fraction(0)) for each in loads), Fraction(0))
    return card.made_ml - poured * part.share
