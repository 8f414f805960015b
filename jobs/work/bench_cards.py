"""The bench one thing at a time: what is mixed and done, a screen each, in the order of the hand. Pure.

The ticket's cards, with one difference: what is combined for one pane, or dwells pane by pane, is a screen a pane.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from jobs.work.ticket_plan import TicketMix, TicketPlan
from jobs.work.work_plan import LoadPlan, MixCard, Poured, StepCard, WorkPlan

CONDITIONS, GLASS, MIX, STEP, PANES = "conditions", "glass", "mix", "step", "panes"
#: the screen of everything at once, and the one on which the work ends
ALL, LEAVE = "all", "leave"


@dataclass(frozen=True, kw_only=True)
class Amount:
    """What a step takes of one mix, in mL: for its load, or for its pane alone."""

    poured: Poured
    volume_ml: Fraction


@dataclass(frozen=True, kw_only=True)
class Screen:
    """One thing to do. anchor: its name in the page, and of a step what it is recorded under.

    of: the place among several mixes for one step, and how many they are. previous, following: anchors.
    """

    anchor: str
    kind: str
    load: LoadPlan | None = None
    mix: MixCard | None = None
    making: TicketMix | None = None
    step: StepCard | None = None
    pane: str = ""
    of: tuple[int, int] = (1, 1)
    previous: str = ALL
    following: str = ALL

    @property
    def subject(self) -> str:
        """Return what a mix or step is recorded under."""
        return self.making.key if self.making else self.anchor

    @property
    def short(self) -> str:
        """Return where a load stands while this is next."""
        if self.kind == MIX and self.mix is not None:
            return f"mixing for {self.mix.step}" if self.mix.step and self.load else "mixing"
        if self.kind == STEP and self.step is not None:
            return f"step {self.step.step.number}{f', pane {self.pane}' if self.pane else ''}"
        return "say how they came out"

    @property
    def name(self) -> str:
        """Return what it is called where another screen says what comes then."""
        if self.making is not None:
            return f"Mix {self.mix.letter if self.mix else ''}, {self.making.solution}"
        if self.step is not None:
            name = self.step.step.name or self.step.step.kind.capitalize()
            return f"{name}, pane {self.pane}" if self.pane else name
        return {CONDITIONS: "Conditions", GLASS: "Glass", PANES: "How the panes came out"}[self.kind]

    @property
    def panes(self) -> Sequence[str]:
        return (self.pane,) if self.pane else self.load.load.panes if self.load else ()

    @property
    def amounts(self) -> list[Amount]:
        """Return what the step takes of each mix."""
        if self.step is None:
            return []
        return [Amount(poured=poured, volume_ml=poured.pane_ml.get(self.pane, poured.load_ml) if self.pane
                       else poured.load_ml) for poured in self.step.poured]


def screens_of(work: WorkPlan, plan: TicketPlan) -> list[Screen]:
    """Return every screen of a ticket in the order of the hand; each knows the one before and the one after."""
    found = [Screen(anchor=CONDITIONS, kind=CONDITIONS)]
    if plan.glass:
        found.append(Screen(anchor=GLASS, kind=GLASS))
    found += [screen for card in work.whole_job for screen in _of_mix(card, None)]
    groups = [found, *([*_of_load(load), Screen(anchor=f"{load.anchor}-panes", kind=PANES, load=load)]
                       for load in work.loads)]
    return [screen for group in groups for screen in _chained(group)]


def _chained(group: Sequence[Screen]) -> list[Screen]:
    """Return screens that follow each other; before the first and after the last stands everything at once."""
    anchors = [ALL, *(screen.anchor for screen in group), ALL]
    return [replace(screen, previous=anchors[at], following=anchors[at + 2]) for at, screen in enumerate(group)]


def _of_mix(card: MixCard, load: LoadPlan | None, pane: str = "") -> list[Screen]:
    return [Screen(anchor=f"mix-{making.key}", kind=MIX, mix=card, making=making, load=load, pane=making.pane)
            for making in card.makings if not pane or making.pane == pane]


def _of_load(load: LoadPlan) -> Iterator[Screen]:
    ahead: list[MixCard] = []
    for card in load.cards:
        if isinstance(card, MixCard):
            ahead.append(card)
            continue
        by_pane = [mix for mix in ahead if mix.mix.pane]
        yield from _numbered([screen for mix in ahead if not mix.mix.pane for screen in _of_mix(mix, load)])
        panes = load.load.panes if by_pane or card.step.dwells_by_pane else [""]
        for pane in panes:
            yield from _numbered([screen for mix in by_pane for screen in _of_mix(mix, load, pane)])
            anchor = f"{load.anchor}s{card.step.number}"
            yield Screen(anchor=f"{anchor}p{pane}" if pane else anchor, kind=STEP, load=load, step=card, pane=pane)
        ahead = []


def _numbered(mixes: Sequence[Screen]) -> list[Screen]:
    return [replace(screen, of=(at, len(mixes))) for at, screen in enumerate(mixes, start=1)]
