"""Words of the bench that shows one thing at a time, of a run's step and of a trial's alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any, Protocol

from django import template

from recipes.clocks import limit_of
from recipes.finishes.pouring import as_poured_ml
from recipes.finishes.zones import zone_words
from recipes.step_kinds import kind_of
from studio.house.models import House
from studio.house.templatetags.figures import amount, duration
from studio.stockroom.picking import Pick

register = template.Library()


class MixedFor(Protocol):
    """What is asked of a part of a step."""

    @property
    def mixed_for(self) -> str: ...


class Worked(Protocol):
    """What is asked of a step, of a ticket or of a recipe."""

    @property
    def name(self) -> str: ...
    @property
    def kind(self) -> str: ...
    @property
    def parts(self) -> Sequence[MixedFor]: ...
    @property
    def attended(self) -> bool: ...
    @property
    def dwell_minutes(self) -> Fraction: ...
    @property
    def motion(self) -> str: ...
    @property
    def pane_lies(self) -> str: ...
    @property
    def drying(self) -> str: ...
    @property
    def rinse_full(self) -> bool: ...
    @property
    def rinse_collected(self) -> bool: ...
    @property
    def rinse_water(self) -> str: ...
    @property
    def surface_before(self) -> str: ...
    @property
    def dwells_by_pane(self) -> bool: ...
    @property
    def zone(self) -> str: ...
    @property
    def rim_width_mm(self) -> Fraction: ...
    @property
    def zone_share(self) -> Fraction: ...
    @property
    def temperature_low_c(self) -> Fraction | None: ...
    @property
    def temperature_high_c(self) -> Fraction | None: ...


@register.filter
def step_set(step: Worked) -> str:
    """Return how a step is set: zone, surface, temperature, how the pane moves and lies, drying, rinse."""
    said = [zone_words(step.zone, step.rim_width_mm, step.zone_share)]
    if step.surface_before != "either":
        said.append(f"Surface {step.surface_before} before.")
    said.append(_temperature(step.temperature_low_c, step.temperature_high_c))
    if step.parts:
        said.append(f"{'Rock it' if step.motion == 'rocked' else 'Still'}, pane {step.pane_lies}.")
    if step.drying:
        said.append(f"Dry in {step.drying}.")
    if step.rinse_full:
        collected = ", first water collected" if step.rinse_collected else ""
        full = f"Full rinse{f', {step.rinse_water}' if step.rinse_water else ''}{collected}"
        said.append(f"{full}." if full.lower() != step.name.lower() else "")
    return " ".join(filter(None, said))


def _temperature(low: Fraction | None, high: Fraction | None) -> str:
    if low is not None and high is not None:
        return f"{amount(low)} to {amount(high)} °C."
    if low is not None:
        return f"{amount(low)} °C or warmer."
    return f"At most {amount(high)} °C." if high is not None else ""


@register.filter
def dwell_words(step: Worked) -> str:
    """Return a step's dwell, whether it is counted for each pane or for the load, and whether it may run over."""
    mixed_so = step.attended and any(part.mixed_for == "pane" for part in step.parts)  # tickets of before say no more
    each = "each pane " if step.dwells_by_pane or mixed_so else ""
    longer = " or longer" if step.drying else ""
    return f"{each}{'dry' if step.drying else 'dwell'} {duration(step.dwell_minutes)}{longer}"


@register.filter
def pour(volume_ml: Fraction) -> str:
    """Return a volume to pour as a graduated cylinder reads it."""
    return amount(as_poured_ml(volume_ml))


@register.filter
def from_lots(picks: Sequence[Pick], unit: str = "") -> str:
    """Return the lots to take from; how much of each where there are several."""
    if len(picks) == 1:
        return picks[0].lot_number
    return ", ".join(f"{pick.lot_number} ({' '.join(filter(None, [amount(pick.amount), unit]))})" for pick in picks)


@register.filter
def makes_safe(step: Worked) -> bool:
    return kind_of(step.kind).makes_safe


@register.filter
def made_safe_by(house: House) -> str:
    """Return by when silver that is mixed now is made safe, in the studio's words."""
    return limit_of(house).in_words()


@register.filter
def sent_in_words(fields: Mapping[str, Sequence[str]]) -> str:
    """Return what a record held as it was sent: “amount: 22.7 g; act: amounts”."""
    return "; ".join(f"{name.rpartition('-')[2].replace('_', ' ')}: {', '.join(values)}"
                     for name, values in (fields or {}).items() if any(values))


@register.filter
def filled_up(rows: Sequence[Any], row: Any) -> bool:
    """Say whether an ingredient makes up the others to a mark; one alone is simply measured."""
    return bool(row.make_up) and len(rows) > 1
