"""What a price asks somebody to look at: each thing once, counted, with the lines it is about. Pure: no Django.

What is in order is said too, in the same four words: chemistry, glass, size, date.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from jobs.estimating.estimate import Estimate
from jobs.estimating.go_ahead import wished_for
from jobs.estimating.refusals import EstimateWarning, WarningKind
from recipes.facts import RecipeFacts, StepFacts
from recipes.step_kinds import kind_of
from studio.kit.currencies import show_money
from studio.kit.rounding import decimal_string
from studio.kit.units import show_stock


@dataclass(frozen=True, kw_only=True)
class Point:
    """One thing said of a price: its word, whether it needs a look, a sentence, and the lines it is about."""

    word: str
    sentence: str
    lines: tuple[int, ...] = ()
    needs_a_look: bool = True


@dataclass(frozen=True, kw_only=True)
class Short:
    """A material that is short: name, whether it is glass, what is needed and free in its stock unit."""

    name: str
    is_glass: bool
    needed: Fraction
    free: Fraction
    unit: str
    promised_to: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        missing = show_stock(self.needed - self.free, self.unit)
        words = f"{self.name}: {show_stock(self.needed, self.unit)} needed, {show_stock(self.free, self.unit)} free"
        promised = f"; promised to {', '.join(self.promised_to)}" if self.promised_to else ""
        return f"{words}, {missing} short{promised}."


#: the word that a kind of warning stands under, and what is said where several lines share it: {count} lines
_TOGETHER: Mapping[WarningKind, tuple[str, str]] = {
    "pane for two people": (
        "weight", "{count} lines have panes above the studio's limit for one person: two people, gloves and eye "
        "protection."
    ),
    "crate for two people": ("weight", "{count} crates are for two people or a trolley."),
    "hole near an edge": (
        "holes", "{count} lines have a hole less than twice the glass's thickness from an edge: it may crack there."
    ),
    "hole smaller than thick": (
        "holes", "{count} lines have a hole smaller than the glass is thick: ask the driller first."
    ),
    "rim of another shape": (
        "shape", "{count} lines have a rim taken as that of the bounding rectangle: of their shape no other is known."
    ),
    "not measurable": ("chemistry", "{count} ingredients come to less than can be measured."),
    "no layout found": (
        "loads", "{count} loads found no side-by-side layout: lay them out before mixing, or split them."
    ),
    "group does not fit one load": (
        "matching", "{count} match groups do not fit one load: their panes are silvered one by one."
    ),
}
_WORDS: Mapping[str, str] = {"group": "matching"}


def attention(
    estimate: Estimate, short: Sequence[Short], due_on: date | None = None, left_out: Sequence[int] = (),
) -> list[Point]:
    """Return what is said of a price, what needs a look first; each thing once, however many lines it is about.

    short: what is short in stock. due_on: when the order is due. left_out: lines that are not priced yet.
    """
    found = [
        *_left_out(left_out), *_not_in_use(estimate), *_stock(short), *_sizes(estimate), *_own_prices(estimate),
        *_covers(estimate), *_warnings(estimate.warnings), *_warnings(estimate.carrying.cautions), *_samples(estimate),
        *_kept_offcuts(estimate), *_date(estimate, due_on, short), *_minimum(estimate),
    ]
    return sorted(found, key=lambda point: not point.needs_a_look)


def _left_out(lines: Sequence[int]) -> Iterator[Point]:
    if lines:
        yield Point(word="lines", sentence="Not in this price until corrected.", lines=tuple(lines))


def _not_in_use(estimate: Estimate) -> Iterator[Point]:
    """Say which lines have a recipe version that can be estimated and not quoted."""
    for recipe in estimate.basis.line_recipes():
        if not recipe.in_use:
            yield Point(word="recipe", lines=tuple(line.number for line in estimate.basis.lines_of(recipe.key)),
                        sentence=f"{recipe.finish} {recipe.version_number} is not in use: put it in use before the "
                        "order is quoted.")


def _minimum(estimate: Estimate) -> Iterator[Point]:
    """Say that the price is the minimum charge, or was brought below it. Lines at their own price are not raised."""
    house, price = estimate.basis.house, estimate.price
    is_raised = price.before_rounding < house.minimum_charge
    minimum = show_money(house.minimum_charge, house.currency)
    if price.below_minimum:
        yield Point(word="price", sentence=f"It is below the minimum charge of {minimum}.")
    elif is_raised and all(line.own_price_each is None for line in estimate.basis.lines):
        worked_out = show_money(price.before_rounding, house.currency)
        yield Point(word="price", sentence=f"Raised to the minimum charge of {minimum}: worked out, it came to "
                    f"{worked_out}.", needs_a_look=False)


def _stock(short: Sequence[Short]) -> Iterator[Point]:
    for word, said in (("chemistry", "Enough usable stock is free."), ("glass", "Enough sheets are free.")):
        missing = [one for one in short if one.is_glass == (word == "glass")]
        if missing:
            yield Point(word=word, sentence=" ".join(one.sentence for one in missing))
        else:
            yield Point(word=word, sentence=said, needs_a_look=False)


def _kept_offcuts(estimate: Estimate) -> Iterator[Point]:
    """Say which kept offcuts the glass comes from, and what it costs: nothing, where none was credited to them."""
    uses = [use for use in estimate.glass.sheets if use.kept_offcuts]
    numbers = sorted(number for use in uses for number in use.kept_offcuts)
    if numbers:
        cost = show_money(sum((use.kept_cost for use in uses), Fraction(0)), estimate.basis.house.currency)
        named = f"offcut{'' if len(numbers) == 1 else 's'} {', '.join(map(str, numbers))}"
        yield Point(word="glass", sentence=f"Cut from kept {named}, in the price at {cost}.", needs_a_look=False)


def _sizes(estimate: Estimate) -> Iterator[Point]:
    """Say which lines go beyond what was ever made well of their finish."""
    beyond = False
    for recipe in estimate.basis.line_recipes():
        sizes = [size for size in estimate.sizes if size.line.recipe == recipe.key]
        lines = tuple(size.line.number for size in sizes)
        if recipe.started == 0:
            beyond = True
            yield Point(word="size", lines=lines,
                        sentence=f"{recipe.finish} has never been run: nobody knows yet how it comes out.")
            continue
        larger = tuple(size.line.number for size in sizes if size.area_m2 > recipe.largest_good_m2)
        if larger:
            beyond = True
            best = decimal_string(recipe.largest_good_m2, 2)
            yield Point(word="size", lines=larger, sentence=f"Larger than {recipe.finish} was ever made well "
                        f"({best} m²): ridges, drying lines and edges do not scale by calculation.")
    if not beyond:
        yield Point(word="size", sentence="Nothing is larger than was made well before.", needs_a_look=False)


def unpriced_covers(estimate: Estimate) -> list[tuple[RecipeFacts, StepFacts]]:
    """Return the steps that seal or back and name no solution: their hands are in the price, what they apply is not."""
    return [(recipe, step) for recipe in estimate.basis.line_recipes() for step in recipe.steps
            if kind_of(step.kind).covers and not step.parts]


def cover_in_words(step: StepFacts) -> str:
    return "the back paint" if step.kind == "back" else "the sealer"


def _covers(estimate: Estimate) -> Iterator[Point]:
    for recipe, step in unpriced_covers(estimate):
        lines = tuple(line.number for line in estimate.basis.lines_of(recipe.key))
        yield Point(word="chemistry", lines=lines, sentence=f"Step {step.number} of {recipe.finish} "
                    f"{recipe.version_number} names no solution: {cover_in_words(step)} is not in the price.")


def _own_prices(estimate: Estimate) -> Iterator[Point]:
    below = tuple(line.number for line in estimate.line_prices if line.own_each is not None and line.below_cost)
    own = tuple(line.number for line in estimate.line_prices if line.own_each is not None)
    if below:
        yield Point(word="price", sentence="Sold below cost.", lines=below)
    if own:
        yield Point(word="price", sentence="A price of its own in place of the worked-out one.", lines=own,
                    needs_a_look=False)


def _warnings(warnings: Sequence[EstimateWarning]) -> Iterator[Point]:
    """Yield each kind of warning once; one that stands alone keeps its own sentence."""
    kinds: dict[WarningKind, list[EstimateWarning]] = {}
    for warning in warnings:
        kinds.setdefault(warning.kind, []).append(warning)
    for kind, alike in kinds.items():
        word, together = _TOGETHER.get(kind, (_WORDS.get(kind.split()[0], "order"), ""))
        lines = tuple(dict.fromkeys(warning.line for warning in alike if warning.line))
        sentences = list(dict.fromkeys(warning.sentence for warning in alike))
        if len(sentences) == 1 or not together:
            yield Point(word=word, sentence=" ".join(sentences), lines=lines)
        else:
            yield Point(word=word, sentence=together.format(count=len(lines or sentences)), lines=lines)


def _date(estimate: Estimate, due_on: date | None, short: Sequence[Short]) -> Iterator[Point]:
    """Say how long it takes from the go-ahead, and whether that is in time; no day is promised."""
    ready = estimate.go_ahead
    once_here = " What is short must be here at the go-ahead: no delivery is counted in it." if short else ""
    yield Point(word="date", sentence=f"Ready {ready.in_words}.{once_here}", needs_a_look=bool(short))
    if due_on is not None:
        wished = wished_for(due_on, estimate.basis.as_of, ready)
        yield Point(word="date", sentence=wished.sentence, needs_a_look=wished.too_soon)


def _samples(estimate: Estimate) -> Iterator[Point]:
    """Say which lines are quoted subject to an approved sample: their finish has no liked trial of this studio."""
    recipes = estimate.subject_to_sample
    if recipes:
        keys = {recipe.key for recipe in recipes}
        lines = tuple(line.number for line in estimate.basis.lines if line.recipe in keys)
        names = ", ".join(f"{recipe.finish} {recipe.version_number}" for recipe in recipes)
        yield Point(word="sample", lines=lines, needs_a_look=False,
                    sentence=f"Subject to an approved sample, for want of a liked trial of this studio: {names}.")
