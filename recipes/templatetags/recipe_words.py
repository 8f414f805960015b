"""Words of recipes for templates."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction

from django import template
from django.template.defaultfilters import capfirst, date, pluralize

from recipes.chemistry.mixing import strength_changes_nothing
from recipes.facts import PartFacts, Shelf, StepFacts
from recipes.finishes.zones import zone_words
from recipes.models import FinishPicture, Ingredient, Part, Step, Trial, TrialPhotograph, VersionEvent
from recipes.solutions.bench_card import BenchCard
from recipes.step_kinds import is_attended
from recipes.value_words import strength_words
from studio.house.templatetags.figures import amount, as_coverage, as_length, as_temperature, duration
from studio.kit.rounding import decimal_string, half_up
from studio.kit.typed_values import show_time
from studio.stockroom.models import Posting

register = template.Library()


@register.filter
def strength_in_words(strength: Decimal | Fraction) -> str:
    """Return “double strength”, or “1.5 × strength”."""
    return strength_words(Fraction(strength))


@register.filter
def solution_of(part: PartFacts, shelf: Shelf) -> str:
    """Return the name and version of a part's solution."""
    solution = shelf.solutions[part.solution]
    return f"{solution.name}, version {solution.version_number}"


@register.filter
def changes_nothing(part: PartFacts, shelf: Shelf) -> bool:
    """Say whether a part is at another strength, and no ingredient of its solution scales with it."""
    return part.strength != 1 and strength_changes_nothing(shelf.solutions[part.solution])


@register.filter
def seconds_as_time(seconds: int) -> str:
    minutes, rest = divmod(seconds, 60)
    return f"{minutes} min {rest} s" if minutes and rest else show_time(Fraction(seconds, 60))


@register.filter
def whole_seconds(minutes: Fraction) -> int:
    return int(half_up(Fraction(minutes) * 60, Fraction(1)))


@register.filter
def plain_figure(value: Fraction) -> str:
    """Return a place in a drawing."""
    return decimal_string(Fraction(value), 3)


@register.filter
def version_class(state: str) -> str:
    """Return how a version's state is coloured."""
    return {"in use": "is-good", "withdrawn": "is-danger"}.get(state, "is-attention")


@register.filter
def verdict_class(verdict: str) -> str:
    """Return how a trial's verdict is coloured."""
    return "state is-good" if verdict == Trial.Verdict.LIKED else "state"


@register.filter
def ingredient_names(ingredients: Iterable[Ingredient]) -> str:
    return ", ".join(ingredient.name for ingredient in ingredients)


@register.filter
def in_use_since(events: Iterable[VersionEvent]) -> str:
    """Return since when a version is in use, and who put it in use: “since 3 May 2026, Maud. ”."""
    used = [event for event in events if event.kind == VersionEvent.Kind.IN_USE]
    return "".join(f"since {date(event.at, 'j M Y')}, {event.by.name}. " for event in used)


@register.simple_tag
def part_in_words(part: Part, step: Step) -> str:
    """Return how strong a part is, what it is mixed for, and its parts where a step has several; follows its name."""
    strength = f", {strength_in_words(part.strength)}" if part.strength != 1 else ""
    share = ""
    if len(step.parts.all()) > 1:
        share = f", {amount(part.parts)} part{pluralize(part.parts)}"
    return f"{strength}, mixed for {part.get_mixed_for_display()}{share}"


@register.filter
def kind_and_how(step: Step) -> str:
    """Return a step's kind, where its name does not say it, and how it is done."""
    kind = step.get_kind_display() if step.name else ""
    return ", ".join(filter(None, [kind, step.get_how_display() if step.how else ""]))


@register.filter
def card_in_words(card: BenchCard) -> str:
    """Return which version a card is of, how strong, how long it keeps, when it is ready and when it is rejected."""
    solution = card.solution
    strength = f", {amount(card.strength, 6)} × strength" if card.strength != 1 else ""
    if solution.keeps_minutes:
        keeps = f"Keeps {duration(solution.keeps_minutes)}"
    else:
        keeps = "Works as soon as it is combined" if solution.works_at_once else "Used at once, within the shift"
    return f"Version {solution.version_number}{strength}. " + "; ".join(filter(None, [
        keeps, f"ready after {duration(solution.ready_after_minutes)}" if solution.ready_after_minutes else "",
        f"reject if {solution.reject_if}" if solution.reject_if else "",
    ])) + "."


@register.simple_tag
def tried_step_in_words(step: StepFacts, units: str) -> str:
    """Return how a trial's step is set, each value a sentence; what is not set is not said."""
    said = []
    if step.coverage_ml_per_m2:
        coats = f" × {amount(step.coats)} coats" if step.coats > 1 else ""
        said.append(f"{as_coverage(step.coverage_ml_per_m2, units)}{coats}.")
    said += filter(None, [zone_words(step.zone, step.rim_width_mm, step.zone_share, units)])
    if step.dwell_minutes:
        said.append(f"Dwell {duration(step.dwell_minutes)}{', attended' if step.attended else ''}.")
    if step.parts:
        motion = "Left still" if step.motion == "still" else capfirst(step.motion)
        said.append(f"{motion}, {step.pane_lies}.")
    if step.drying:
        said.append(f"Dries in {step.drying}.")
    said.append(_rinse(step))
    if step.surface_before != "either":
        said.append(f"On a {step.surface_before} surface.")
    said.append(_temperature(step, units))
    return " ".join(filter(None, said))


@register.filter
def wear_in_words(worn: Iterable[str]) -> str:
    """Return what to wear as a sentence without its stop; "" for nothing."""
    return capfirst(", ".join(worn))


@register.simple_tag
def step_values_in_words(step: Step, units: str) -> str:
    """Return how a step is set, value by value, each a sentence; what is not set is not said."""
    return " ".join(filter(None, [
        f"Coverage by the newest calibration of {step.gun}." if step.gun else "", _coverage(step, units),
        f"Sprayed {as_length(step.overspray_mm, units)} beyond the edge." if step.overspray_mm else "",
        zone_words(step.zone, Fraction(step.rim_width_mm), Fraction(step.zone_share), units), _dwell(step),
        f"Pane {step.get_pane_lies_display()}, {step.get_motion_display()}." if step.parts.all() else "",
        f"Dries in {step.get_drying_display()}." if step.drying else "", _rinse(step),
        f"On a {step.surface_before} surface." if step.surface_before != "either" else "",
        _temperature(step, units), f"{capfirst(step.get_hands_display())}'s hands.",
    ]))


def _coverage(step: Step, units: str) -> str:
    if not step.coverage_ml_per_m2:
        return ""
    return as_coverage(step.coverage_ml_per_m2, units) + (f" × {step.coats} coats" if step.coats > 1 else "") + "."


def _dwell(step: Step) -> str:
    if not step.dwell_minutes:
        return ""
    attended = ", attended" if is_attended(step.kind, step.dwell_attended, step.motion) else ""
    each = " for each pane" if step.dwell_counted == Step.DwellCounted.PANE else ""
    return f"Dwell {duration(step.dwell_minutes)}{each}{attended}."


def _rinse(step: Step | StepFacts) -> str:
    if not step.rinse_full:
        return ""
    return "Full rinse" + (f", {step.rinse_water} water" if step.rinse_water else "") + (
        ", first water collected." if step.rinse_collected else ".")


def _temperature(step: Step | StepFacts, units: str) -> str:
    low, high = step.temperature_low_c, step.temperature_high_c
    if low is not None:
        over = f"to {as_temperature(high, units)}" if high is not None else "or warmer"
        return f"{as_temperature(low, units)} {over}."
    return f"At most {as_temperature(high, units)}." if high is not None else ""


@register.filter
def front_photograph(trial: Trial) -> TrialPhotograph | None:
    """Return the first photograph of a trial, where that shows its front (prefetch its photographs)."""
    first = next(iter(trial.photographs.all()), None)
    return first if first is not None and first.side == FinishPicture.Side.FRONT else None


@register.filter
def was_reversed(posting: Posting) -> bool:
    """Say whether everything a posting moved was moved back (prefetch its movements)."""
    return all(getattr(movement, "reversed_by", None) is not None for movement in posting.movements.all())
