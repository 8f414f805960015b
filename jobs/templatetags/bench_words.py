"""Words of the bench for templates: what to wear, how a step is done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from django import template

from jobs.models import WaitingRecord
from jobs.work.bench import MixState, PaneState
from jobs.work.forms import ConditionsForm
from jobs.work.ticket_plan import TicketGlass, TicketMix, TicketPane, TicketPart, TicketStep
from recipes.templatetags.bench_page_words import from_lots
from recipes.trouble import TROUBLES, Trouble
from studio.house.templatetags.figures import amount, duration, percent
from studio.kit.rounding import decimal_string
from studio.stockroom.picking import Pick
from studio.stockroom.protection import protection_for

register = template.Library()
register.filter(from_lots)
HOW = {"spray": "sprayed", "pour": "poured", "wipe": "wiped", "dip": "dipped", "mist": "misted", "brush": "brushed"}


@register.filter
def sent_fields(record: WaitingRecord) -> str:
    """Return what a record held as it was sent: “amount 2: 22.7; act: amounts”."""
    return "; ".join(f"{name.rpartition('-')[2].replace('_', ' ')}: {', '.join(values)}"
                     for name, values in record.fields.items() if any(values))


@register.filter
def wear(step: TicketStep | TicketMix) -> str:
    """Return the protection a step or mix usually needs, as a list in words."""
    sprayed = isinstance(step, TicketStep) and step.how in ("spray", "mist")
    chemical = step.chemical and (isinstance(step, TicketMix) or bool(step.parts))
    return ", ".join(protection_for(step.agents, step.statements, sprayed=sprayed, chemical=chemical))


@register.simple_tag
def troubles() -> tuple[Trouble, ...]:
    return TROUBLES


@register.filter
def how_words(how: str) -> str:
    return HOW.get(how, how)


@register.filter
def of_lines(panes: Mapping[int | str, int]) -> str:
    """Return how many panes of which line a crate holds: “2 of line 1, 1 of line 3”."""
    return ", ".join(f"{count} of line {line}" for line, count in panes.items())


@register.filter
def mixed_for_at_the_bench(mix: TicketMix) -> str:
    """Return, for the bench page, what a mix is for, which batch it is, and how soon it is used."""
    where = f"Load {mix.load}" if mix.load else "The whole job"
    if len(mix.shared_ml) > 1:
        where = f"Loads {', '.join(str(load) for load in sorted(mix.shared_ml))}"
    said = ", ".join(filter(None, [where, f"pane {mix.pane}" if mix.pane else "", _batch(mix)]))
    return "; ".join(filter(None, [said, _how_soon(mix, "mix")]))


def _batch(mix: TicketMix) -> str:
    return f"batch {mix.batch} of {mix.batches}" if mix.batches > 1 else ""


def _how_soon(mix: TicketMix, act: str) -> str:
    if mix.works_for_minutes is not None:
        return f"works for {duration(mix.works_for_minutes)} from the beginning of mixing"
    if mix.works_at_once:
        return f"works at once: {act} it when the pane is ready"
    return "" if mix.keeps else "use at once"


@register.filter
def mixed_how(state: MixState) -> str:
    """Return what was recorded of a batch, and by whom."""
    return state.how


@register.filter
def mixed_class(state: MixState) -> str:
    """Return how a batch's note is coloured."""
    return {None: "state", True: "state is-good", False: "state is-attention"}[state.made]


@register.filter
def judged_class(pane: PaneState) -> str:
    """Return how what became of a pane is coloured."""
    return {"good": "state is-good", "spoilt": "state is-danger"}.get(pane.outcome, "state")


@register.filter
def sheets_from_lots(picks: Sequence[Pick]) -> str:
    """Return the lots to take sheets from, with how many of each."""
    return ", ".join(f"lot {pick.lot_number} ({amount(pick.amount)})" for pick in picks)


@register.filter
def sheets_to_take(glass: TicketGlass) -> str:
    if not glass.sheets:
        return f"{glass.name}: kept offcuts alone"
    return f"{glass.name}: {glass.sheets} sheet{'' if glass.sheets == 1 else 's'}"


@register.filter
def pane_at_the_bench(pane: TicketPane) -> str:
    """Return, for the bench page, a pane's finish and what is done to it besides."""
    matches = f"matches {pane.match_group}" if pane.match_group else ""
    return "; ".join(filter(None, [f"{pane.finish}; {pane.edge}", _backing(pane), matches, pane.note]))


def _backing(pane: TicketPane) -> str:
    return "backing board added" if pane.backing == "board" else ""


@register.filter
def done_how(step: TicketStep) -> str:
    """Return how a step is done, to follow its name: “, sprayed, 2 coats (the owner's hands)”."""
    said = f", {how_words(step.how)}" if step.how else ""
    said += f", {step.coats} coats" if step.coats > 1 else ""
    return said + (" (the owner's hands)" if step.hands == "owner" else "")


@register.filter
def share_of_step(part: TicketPart, step: TicketStep) -> str:
    """Return which solution a part is, how strong, and how much of the step's volume where there are several."""
    strength = f" at {amount(part.strength, 6)} × strength" if part.strength != 1 else ""
    return f"{part.solution}{strength}" + (f", {percent(part.share, 0)} of it" if len(step.parts) > 1 else "")


@register.simple_tag
def step_settings(step: TicketStep, load: int) -> str:
    """Return how a step is set for a load: volume, dwell, how the pane moves and lies, drying, rinse."""
    said = []
    if volume := load_volume(step.volume_per_load_ml, load):
        said.append(f"{amount(volume, 0)} mL for this load.")
    if step.dwell_minutes:
        said.append(f"Dwell {duration(step.dwell_minutes)}{', stay with it' if step.attended else ''}.")
    if step.parts:
        said += ["Rock it." if step.motion == "rocked" else "Still.", f"Pane {step.pane_lies}."]
    if step.drying:
        said.append(f"Dry in {step.drying}.")
    if step.rinse_full:
        collected = ", first water collected" if step.rinse_collected else ""
        said.append(f"Full rinse{f', {step.rinse_water}' if step.rinse_water else ''}{collected}.")
    return " ".join(said)


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
    if name == "meant_so":
        return "Meant so"
    return str(ConditionsForm.base_fields[name].label or name) if name in ConditionsForm.base_fields else name
