"""Words of the bench page that shows one thing at a time."""

from __future__ import annotations

from typing import Any

from django import template

from jobs.templatetags.bench_words import wear
from jobs.templatetags.ticket_words import worn_at
from jobs.work.bench import MixState
from jobs.work.bench_cards import Screen
from jobs.work.steps_views import Shown
from jobs.work.work_plan import LoadPlan, StepCard
from recipes.templatetags.bench_page_words import made_safe_by, makes_safe, step_set

register = template.Library()
register.filter(made_safe_by)
register.filter(makes_safe)


@register.filter
def place_among(screen: Screen) -> str:
    """Return which of several mixes for one step, or of several batches, this is."""
    at, among = screen.of
    making = screen.making
    said = [f"{at} of {among} for it" if among > 1 else ""]
    if making is not None and making.batches > 1:
        said.append(f"batch {making.batch} of {making.batches}")
    return ", ".join(filter(None, said))


@register.filter
def onward(shown: Shown) -> str:
    """Return where the next press leads: “step 6”, “mix B”, “all loads”."""
    screen = shown.following
    if screen is None:
        return "all loads"
    if screen.step is not None:
        return f"step {screen.step.step.number}{f', pane {screen.pane}' if screen.pane else ''}"
    if screen.mix is not None:
        return f"mix {screen.mix.letter}"
    return "the panes" if screen.load else screen.name.lower()


@register.filter
def then(shown: Shown) -> str:
    """Return what comes next, by its name."""
    screen = shown.following
    if screen is None:
        return "All loads"
    return f"{screen.step.step.number}. {screen.name}" if screen.step is not None else screen.name


@register.filter
def how_done(screen: Screen) -> str:
    """Return how a step is set and what its recipe says, in sentences."""
    assert screen.step is not None
    step = screen.step.step
    return " ".join(filter(None, [step.instructions, step_set(step)]))


@register.filter
def worn_by(card: StepCard, load: LoadPlan) -> str:
    """Return what to wear at a step in full: at the bench nothing else is in sight."""
    words = wear(card.step)
    if words:
        return words[0].upper() + words[1:]
    return f"{worn_at(card, load).capitalize()}: {', '.join(dict.fromkeys(filter(None, map(_worn, load.mixes))))}"


def _worn(card: Any) -> str:
    return wear(card.mix) if card.starts_clock else ""


@register.filter
def entry_of(said: dict[str, Any], mix: MixState) -> dict[str, Any]:
    """Return what was recorded of a further making."""
    return said.get(f"mixed {mix.key}", {})
