"""Words of the bench for templates: what to wear, how a step is done."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from django import template

from jobs.forms import ConditionsForm
from jobs.ticket_plan import TicketMix, TicketStep
from studio.inventory.protection import protection_for
from studio.rounding import decimal_string

register = template.Library()
HOW = {"spray": "sprayed", "pour": "poured", "wipe": "wiped", "dip": "dipped", "mist": "misted", "brush": "brushed"}


@register.filter
def wear(step: TicketStep | TicketMix) -> str:
    """Return the protection a step or mix usually needs, as a list in words."""
    sprayed = isinstance(step, TicketStep) and step.how in ("spray", "mist")
    return ", ".join(protection_for(step.agents, sprayed=sprayed))


@register.filter
def how_words(how: str) -> str:
    return HOW.get(how, how)


@register.filter
def of_lines(panes: Mapping[int | str, int]) -> str:
    """Return how many panes of which line a crate holds: “2 of line 1, 1 of line 3”."""
    return ", ".join(f"{count} of line {line}" for line, count in panes.items())


@register.filter
def mixes_of_step(mixes: list[TicketMix], step: TicketStep) -> list[TicketMix]:
    return [mix for mix in mixes if mix.step == step.number]


@register.filter
def load_volume(volumes: dict[str, Fraction], load: int) -> Fraction | None:
    """Return what a step applies to a load, in mL."""
    return volumes.get(str(load))


@register.filter
def plain(value: Fraction) -> str:
    """Return a length as a plain number, for a drawing."""
    return decimal_string(Fraction(value), 3)


@register.filter
def middle(start: Fraction, extent: Fraction) -> str:
    """Return the middle of an extent, as a plain number."""
    return decimal_string(start + extent / 2, 3)


@register.filter
def condition_name(name: str) -> str:
    """Return what a condition is called on the page."""
    return str(ConditionsForm.base_fields[name].label or name) if name in ConditionsForm.base_fields else name
