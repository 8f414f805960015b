"""A trial one thing at a time: what is mixed and done for its one pane, a screen each, in the order of the hand. Pure.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from recipes.facts import PartFacts, RecipeFacts, Shelf, StepFacts
from recipes.finishes.hand_order import letter, mixed_before
from recipes.finishes.volumes import PartMix
from recipes.solutions.bench_card import BenchCard

CONDITIONS, MIX, STEP = "conditions", "mix", "step"
#: the screen of everything at once; what follows the last step
ALL, PHOTOGRAPHS = "all", "photographs"


@dataclass(frozen=True, kw_only=True)
class Place:
    """What a screen is worked on: a trial has its one pane."""

    anchor: str = "pane"


@dataclass(frozen=True, kw_only=True)
class Poured:
    """What a step takes of one part for the pane, in mL. letter: of its mix, "" where it is not mixed."""

    part: PartFacts
    solution: str
    volume_ml: Fraction
    letter: str = ""


@dataclass(frozen=True, kw_only=True)
class Screen:
    """One thing to do. anchor: its name in the page. subject: what it is recorded under, s3p1 a part of step 3.

    part: the part that a mix is for, or goes into. inside: letters, by ingredient, of what is mixed before.
    """

    anchor: str
    kind: str
    load: Place | None = None
    subject: str = ""
    mix: BenchCard | None = None
    part: str = ""
    letter: str = ""
    inside: Mapping[int, str] | None = None
    step: StepFacts | None = None
    poured: tuple[Poured, ...] = ()
    refusals: tuple[str, ...] = ()
    of: tuple[int, int] = (1, 1)
    previous: str = ALL
    following: str = ALL

    @property
    def short(self) -> str:
        """Return where the trial stands while this is next."""
        number = self.step.number if self.step else 0
        return f"mixing for step {number}" if self.kind == MIX else f"step {number}"

    @property
    def name(self) -> str:
        """Return what it is called where another screen says what comes then."""
        if self.mix is not None:
            return f"Mix {self.letter}, {self.mix.solution.name}"
        if self.step is not None:
            return f"{self.step.number}. {self.step.name or self.step.kind.capitalize()}"
        return "Conditions"

    @property
    def goes_on(self) -> str:
        """Return where a press leads that goes to it: “step 6”, “mix B”."""
        return f"mix {self.letter}" if self.mix else f"step {self.step.number}" if self.step else "the conditions"


def screens_of(recipe: RecipeFacts, mixes: Mapping[int, Sequence[PartMix]], shelf: Shelf) -> list[Screen]:
    """Return every screen of a trial in the order of the hand. recipe: in the order of the bench."""
    before = mixed_before(recipe.steps)
    mixed: dict[int, list[StepFacts]] = {}
    for at, step in enumerate(recipe.steps):
        by_pane = any(shelf.solutions[mix.part.solution].works_at_once for mix in mixes.get(step.number, ()))
        mixed.setdefault(at if by_pane else before[at], []).append(step)
    found = [Screen(anchor=CONDITIONS, kind=CONDITIONS)]
    letters: dict[str, str] = {}
    for at, step in enumerate(recipe.steps):
        for other in mixed.get(at, ()):
            group = [screen for number, mix in enumerate(mixes.get(other.number, ()), start=1)
                     for screen in _of_mix(mix, other, f"s{other.number}p{number}", letters)]
            found += [replace(one, of=(place, len(group))) for place, one in enumerate(group, start=1)]
        found.append(_of_step(step, mixes.get(step.number, ()), shelf, letters))
    anchors = [ALL, *(screen.anchor for screen in found), PHOTOGRAPHS]
    return [replace(screen, previous=anchors[at], following=anchors[at + 2]) for at, screen in enumerate(found)]


def _of_mix(mix: PartMix, step: StepFacts, part: str, letters: dict[str, str]) -> Iterator[Screen]:
    if mix.card is not None:
        yield from _of_card(mix.card, step, part, part, letters)


def _of_card(card: BenchCard, step: StepFacts, part: str, subject: str, letters: dict[str, str]) -> Iterator[Screen]:
    """Yield what a card is mixed from first, then the card itself."""
    inside = {}
    for row in card.rows:
        if row.inside is not None:
            number = row.measured.ingredient.number
            yield from _of_card(row.inside, step, part, f"{subject}i{number}", letters)
            inside[number] = letters[f"{subject}i{number}"]
    letters[subject] = letter(len(letters))
    yield Screen(anchor=f"mix-{subject}", kind=MIX, load=Place(), subject=subject, mix=card, part=part, step=step,
                 letter=letters[subject], inside=inside)


def _of_step(step: StepFacts, mixes: Sequence[PartMix], shelf: Shelf, letters: Mapping[str, str]) -> Screen:
    anchor = f"s{step.number}"
    return Screen(
        anchor=anchor, kind=STEP, load=Place(), subject=anchor, step=step,
        poured=tuple(Poured(
            part=mix.part, solution=shelf.solutions[mix.part.solution].name, volume_ml=mix.needed_ml,
            letter=letters.get(f"{anchor}p{number}", ""),
        ) for number, mix in enumerate(mixes, start=1) if mix.needed_ml > 0),
        refusals=tuple(mix.refusal for mix in mixes if mix.refusal),
    )
