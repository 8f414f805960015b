"""What an estimate warns of and refuses, as values: a kind, a subject, a line and a field; sentences are made here.

Code that must choose among them asks for kind, subject or field, never for words in a sentence.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from studio.kit.errors import DaybookError

WarningKind = Literal[
    "no layout found", "group does not fit one load", "group mixes recipes", "group mixes glass",
    "group of the customer's own glass", "not measurable", "hole near an edge", "hole smaller than thick",
    "pane for two people", "crate for two people", "rim of another shape",
]
RefusalKind = Literal[
    "no lines", "no rates", "no such edge", "no size", "no panes", "no area", "area out of range",
    "hole outside the pane", "holes meet", "pane larger than the bench", "pane larger than the sheet",
    "no room on kept offcuts", "too few sheets", "sheet without a size", "glass without a price",
    "material without a price",
    "materials without a price",
    "panes to start out of range", "yield too low", "yield out of range", "mixed for the job", "works at once",
    "no working time", "minimum above the vessel", "margin out of range", "discount above the price",
    "discount on own prices", "treated glass cut here", "treated glass ground", "treated glass drilled",
    "toughened too late", "toughened already",
]

_WARNINGS: Mapping[WarningKind, str] = {
    "no layout found":
        "No side-by-side layout was found for load {subject}: lay it out before mixing, or split it.",
    "group does not fit one load": "Match group {subject} does not fit one load: its panes are silvered one by one.",
    "group mixes recipes":
        "Match group {subject} mixes recipes ({recipes}): its panes are silvered separately and will differ.",
    "group mixes glass":
        "Match group {subject} mixes glass ({glasses}): side by side, the difference in colour and thickness shows.",
    "group of the customer's own glass":
        "Match group {subject} is the customer's own glass: whether it is all from one lot is not known.",
    "not measurable": "{subject} in {solution} comes to less than 0.001 {unit}: it cannot be measured.",
    "hole near an edge":
        "{subject}: the {hole} leaves less than twice the glass's thickness to an edge: it may crack there.",
    "hole smaller than thick": "{subject}: the {hole} is smaller than the glass is thick: ask the driller first.",
    "pane for two people":
        "{subject}: {kg} kg a pane, above the studio's limit for one person ({limit} kg): two people, gloves and eye "
        "protection.",
    "rim of another shape":
        "{subject}: step {step} treats a rim. Of this shape it is taken as the rim of the bounding rectangle.",
    "crate for two people":
        "Crate {subject}: up to {kg} kg packed. Two people or a trolley, upright, on its long edge.",
}
_GROUP_KINDS: frozenset[WarningKind] = frozenset({
    "group does not fit one load", "group mixes recipes", "group mixes glass", "group of the customer's own glass",
})
#: of each kind of refusal: the field of the order form that it stands beside, and its sentence
_REFUSALS: Mapping[RefusalKind, tuple[str, str]] = {
    "no lines": ("", "The order has no lines yet: enter a size, a quantity and a finish."),
    "no rates": ("", "{subject}"),
    "no such edge": ("edge", "{subject}: there is no edge “{edge}” in Studio settings."),
    "no size": ("size_text", "{subject}: width and height must be above zero."),
    "no panes": ("quantity", "{subject}: the quantity must be 1 or more."),
    "no area": ("area_text", "{subject}: give the area of this shape."),
    "area out of range": (
        "area_text", "{subject}: the area must be above zero and fit its bounding rectangle."
    ),
    "hole outside the pane": ("holes_text", "{subject}: the {hole} does not lie inside the pane."),
    "holes meet": ("holes_text", "{subject}: two of its holes meet."),
    "pane larger than the bench": (
        "oversize_method", "{subject}, {size} mm, does not fit the bench of {bench} mm ({usable} m² usable). Mark it "
        "as oversize and say how it is done."
    ),
    "pane larger than the sheet": (
        "glass", "{subject} is too large for a sheet of {glass}, {sheet}: the size is short, not the stock. Choose "
        "another glass or buy it cut."
    ),
    "no room on kept offcuts": (
        "route", "{subject} does not fit on the kept offcuts of {glass} that are free: take it from a sheet."
    ),
    "too few sheets": (
        "glass", "The sheets of {glass} that there are do not hold {subject}: {sheets}. The stock is short, not the "
        "size: get more sheets, or buy panes cut."
    ),
    "sheet without a size": ("glass", "{subject} has no sheet size: buy it cut, or give its sheet a size."),
    "glass without a price": ("glass", "{subject} has never been received and has no list price: give it one."),
    "material without a price": ("", "{subject} has never been received and has no list price: give it one."),
    "materials without a price": (
        "", "{subject} have never been received and have no list price: give each of them one."
    ),
    "panes to start out of range": (
        "own_panes_to_start", "{subject}: panes to start must lie between {fewest} and {most}."
    ),
    "yield too low": (
        "own_panes_to_start", "With a yield of {percent} %, {wanted} good panes cannot be promised: set the number of "
        "panes to start yourself, or choose the rework plan."
    ),
    "yield out of range": ("", "{subject}: the yield must be above 0 and at most 1."),
    "mixed for the job": ("mixed_for", "{subject} is for immediate use: it cannot be mixed for the whole job."),
    "works at once": ("mixed_for", "{subject} works at once: it can be mixed for one pane only."),
    "no working time": ("mixed_for", "{subject} has no working time: give it one, or mix it for each load."),
    "minimum above the vessel": (
        "", "{subject}: the smallest batch is {least} mL, and the largest vessel holds {vessel} mL."
    ),
    "margin out of range": ("", "The margin must be at least 0 and below 100 %."),
    "discount above the price": ("discount", "The discount is more than the price of {price}."),
    "discount on own prices": (
        "discount", "A discount is taken from the lines without a price of their own, and they come to {price}: lower "
        "a line's own price instead."
    ),
    "treated glass cut here": (
        "route", "{subject}: {treatment} glass cannot be cut from a sheet here; it shatters or splits. Buy it cut to "
        "size, edged and drilled before it was treated."
    ),
    "treated glass ground": (
        "edge", "{subject}: a {edge} edge cannot be ground on {treatment} glass. Have the edge worked before it is "
        "treated, and choose an edge that grinds nothing off."
    ),
    "treated glass drilled": (
        "holes_text", "{subject}: {treatment} glass cannot be drilled; it shatters or splits. "
        "Have it drilled before it is treated."
    ),
    "toughened too late": (
        "before", "{subject}: glass is toughened before it is silvered; the oven would destroy the silver."
    ),
    "toughened already": ("line_number", "{subject}: line {line_number} is treated glass already."),
}


@dataclass(frozen=True, kw_only=True)
class EstimateWarning:
    """What an estimate warns of. subject: the group, load, hole's line, ingredient or crate; line 0 for the order."""

    kind: WarningKind
    subject: str
    sentence: str
    line: int = 0
    field: str = ""
    recipe: str = ""

    def __str__(self) -> str:
        return self.sentence

    @property
    def about_a_group(self) -> bool:
        """Say whether it concerns neighbours that are to match."""
        return self.kind in _GROUP_KINDS


def warn(
    kind: WarningKind, subject: str, *, line: int = 0, field: str = "", recipe: tuple[str, str] | None = None,
    **words: str,
) -> EstimateWarning:
    """Return a warning with its sentence.

    recipe: key and finish of the recipe that it concerns alone; the finish then opens the sentence. words: what the
    sentence of this kind names besides its subject.
    """
    sentence = _WARNINGS[kind].format(subject=subject, **words)
    key, finish = recipe or ("", "")
    return EstimateWarning(
        kind=kind, subject=subject, line=line, field=field, recipe=key,
        sentence=f"{finish}: {sentence}" if finish else sentence,
    )


class EstimateError(DaybookError):
    """The order cannot be estimated as it stands.

    subject: what is refused, as the sentence names it. words: what the sentence of this kind names beside it.
    """

    def __init__(self, kind: RefusalKind, subject: str = "", line: int = 0, **words: str) -> None:
        field, sentence = _REFUSALS[kind]
        super().__init__(sentence.format(subject=subject, **words), field, line, kind=kind, subject=subject)
        self.words = words

    @property
    def wants_prices(self) -> bool:
        """Say whether nothing is wrong with the order, and only a material's price is not known; words: its codes."""
        return "codes" in self.words

    def about(self, subject: str) -> str:
        """Return the sentence said of something else, for instance of “A pane” where lines have no numbers."""
        kind: RefusalKind = self.kind  # type: ignore[assignment]  # set above
        return _REFUSALS[kind][1].format(subject=subject, **self.words)
