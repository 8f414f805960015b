"""Words of the printed ticket for its templates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from jobs.drawings.timeline import clock
from jobs.templatetags.bench_words import wear
from jobs.work.pane_meetings import is_ammoniacal
from jobs.work.ticket_plan import TicketIngredient, TicketMix, TicketPlan, TicketStep
from jobs.work.work_plan import LoadPlan, MixCard, Poured, StepCard, WorkPlan
from recipes.step_kinds import kind_of
from recipes.templatetags.bench_page_words import dwell_words, from_lots, pour, step_set
from studio.house.templatetags.figures import amount, duration
from studio.kit.rounding import half_up
from studio.stockroom.picking import Pick

register = template.Library()
#: the timetable's own words for a time: one clock on the ticket
register.filter("clock_time", clock)
for _shared in (step_set, dwell_words, pour):
    register.filter(_shared)


@register.simple_tag
def page_of(anchor: str) -> SafeString:
    """Return “page 3” as a link to the part of the paper that has this anchor."""
    return format_html('<a class="page-of" href="#{}"></a>', anchor)


@register.filter
def letters(cards: Sequence[MixCard]) -> str:
    """Return the letters of the first and the last mix: “A to E”."""
    first, last = cards[0].letter, cards[-1].letter
    return first if first == last else f"{first} to {last}"


@register.filter
def load_name(load: LoadPlan, plan: TicketPlan) -> str:
    """Return what a load is called; with its finish where the ticket has several."""
    name = f"Load {load.load.number}"
    return name if len(plan.recipes) == 1 else f"{load.recipe.finish}, load {load.load.number}"


@register.filter
def load_address(load: LoadPlan, address: str) -> str:
    """Return the address of a load on its run's page."""
    return f"{address}#{load.anchor}"


@dataclass(frozen=True, kw_only=True)
class Block:
    """What the paper sets together: a mix, two small mixes side by side, or steps that follow each other."""

    mixes: list[MixCard] = field(default_factory=list)
    steps: list[StepCard] = field(default_factory=list)

    @property
    def is_pair(self) -> bool:
        return len(self.mixes) > 1


@register.filter
def blocks(load: LoadPlan) -> list[Block]:
    """Return a load's cards in the order of the hand, as the paper sets them together."""
    found: list[Block] = []
    for card in load.cards:
        last = found[-1] if found else Block()
        if isinstance(card, StepCard):
            if not last.steps:
                found.append(Block())
            found[-1].steps.append(card)
        elif len(last.mixes) == 1 and _is_small(last.mixes[0]) and _is_small(card):
            last.mixes.append(card)
        else:
            found.append(Block(mixes=[card]))
    return found


def _is_small(card: MixCard) -> bool:
    return len(card.makings) == 1 and len(card.rows) <= 3 and not is_ammoniacal(card.mix) and not (
        card.mix.cautions or card.mix.together)


@register.filter
def wear_at(step: TicketStep, card: StepCard) -> str:
    """Return what to wear at a step; what the mixes right above it ask for is said there: “as for F, and goggles”."""
    words = wear(step).split(", ")
    above = {poured.letter: wear(poured.mix.mix).split(", ") for poured in card.poured
             if poured.mix and poured.mix.mix.load and not poured.mixed_with and wear(poured.mix.mix)}
    rest = [word for word in words if not any(word in worn for worn in above.values())]
    if not above:
        return ", ".join(words)
    return ", and ".join(filter(None, [f"as for {' and '.join(sorted(above))}", ", ".join(rest)]))


@register.filter
def worn_at(card: StepCard, load: LoadPlan) -> str:
    """Return what to wear at a step, also where it only handles the silver of its load; "" for water alone."""
    if wear(card.step):
        return wear_at(card.step, card)
    if not (kind_of(card.step.kind).makes_safe or card.step.rinse_collected):
        return ""
    silver = [mix.letter for mix in load.mixes if mix.starts_clock]
    met = [f"step {other.step.number}" for other in load.steps if other.starts_clock or any(
        poured.mixed_with and poured.mix and poured.mix.starts_clock for poured in other.poured)]
    return f"as for {' and '.join([*silver, *met])}" if silver or met else ""


@register.filter
def card_meta(card: MixCard) -> str:
    """Return what a mix is for, which version, how soon it is used, when to reject it, and what to wear."""
    mix = card.mix
    if card.goes_into:
        purpose = f"For {'mix' if len(card.goes_into) == 1 else 'mixes'} {', '.join(card.goes_into)}"
        purpose += f" and step {card.step}" if card.step and not mix.inside and not mix.load else ""
    else:
        purpose = f"For step {card.step}" if card.step else ""
    if mix.pane:
        purpose += ", pane by pane"
    if len(mix.shared_ml) > 1:
        purpose += f". Shared: {_by_load(mix)}"
    soon = "Works at once: combine it when the pane is ready" if mix.works_at_once else ""
    if not mix.keeps and not mix.works_at_once:
        soon = "Use at once"
    if mix.works_for_minutes is not None:
        soon = f"Works for {duration(mix.works_for_minutes)} from the beginning of mixing"
    worn = f"Wear {wear(mix)}" if wear(mix) else ""
    begins = f"Begin at {clock(card.time.starts)}" if card.time else ""
    reject = f"Reject if {mix.reject_if}" if mix.reject_if else ""
    said = [begins, purpose, f"Version {mix.version}", soon, reject, worn]
    return ". ".join(filter(None, said)) + "."


def _by_load(mix: TicketMix) -> str:
    """Return which loads share a mix, and how much of it is for each: “load 1 80 mL, load 2 60 mL”."""
    return ", ".join(f"load {load} {pour(volume)} mL" for load, volume in sorted(mix.shared_ml.items()))


@register.filter
def of_an_earlier_load(card: MixCard, load: LoadPlan) -> str:
    """Return, of a mix that an earlier load was mixed with, how much of it is for this one."""
    last = ", the last that takes of it" if card.mix.last_load == load.load.number else ""
    return f"was mixed with load {card.mix.load}: {pour(card.mix.shared_ml[load.load.number])} mL for this load{last}."


@register.filter
def safe_words(card: StepCard) -> str:
    """Return, where a step makes safe, which shared silver stays in use, and which ends here."""
    said = [f"Keep mix {mix.letter} for {_loads_to_come(mix, card)}; make all else safe." for mix in card.stays]
    ends = [f"What is left of mix {mix.letter}, mixed with load {mix.mix.load}, too." for mix in card.ends]
    return " ".join([*said, *ends])


def _loads_to_come(mix: MixCard, card: StepCard) -> str:
    left = sorted(load for load in mix.mix.shared_ml if load > card.load)
    return f"load {left[0]}" if len(left) == 1 else f"loads {left[0]} to {left[-1]}"


@register.filter
def how_often(card: MixCard) -> str:
    """Return how often a mix is made, before its volume: “10 × ”."""
    return f"{len(card.makings)} × " if len(card.makings) > 1 else ""


@register.filter
def each_made(card: MixCard) -> str:
    """Return the volume of each making in mL; the least to the most where they differ."""
    volumes = sorted({making.volume_ml for making in card.makings})
    return amount(volumes[0]) if len(volumes) == 1 else f"{amount(volumes[0])} to {amount(volumes[-1])}"


@register.filter
def each_amount(rows: Sequence[TicketIngredient]) -> str:
    """Return an ingredient's amount in each making; the least to the most where they differ."""
    found = sorted({row.to_measure for row in rows})
    return amount(found[0]) if len(found) == 1 else f"{amount(found[0])} to {amount(found[-1])}"


@register.filter
def named_rows(card: MixCard, rows: Sequence[TicketIngredient]) -> list[tuple[str, TicketIngredient]]:
    """Return an ingredient of every making with the making's name: its pane, or which batch."""
    return [(making.pane or f"batch {making.batch}", row) for making, row in zip(card.makings, rows, strict=True)]


@register.simple_tag
def mix_letter(row: TicketIngredient, card: MixCard, work: WorkPlan) -> str:
    """Return “mix B” for an ingredient that is mixed on this ticket, and with which load, if an earlier one."""
    if row.solution_key in card.sources:
        own, load = card.sources[row.solution_key]
        return f"mix {own}, mixed with load {load}" if load else f"mix {own}"
    name = next((card.letter for card in work.cards if isinstance(card, MixCard)
                 and card.mix.solution_key == row.solution_key and card.mix.strength == 1), "")
    return f"mix {name}" if name else "mixed on this ticket"


@register.filter
def lots_of_rows(rows: Sequence[TicketIngredient]) -> str:
    """Return the lots that the makings take from, with how much of each where there are several, and what is short."""
    taken: dict[str, Pick] = {}
    for row in rows:
        for pick in row.picks:
            before = taken.get(pick.lot_number)
            taken[pick.lot_number] = pick if before is None else Pick(
                lot_id=pick.lot_id, lot_number=pick.lot_number, amount=before.amount + pick.amount)
    short = sum(row.short for row in rows)
    said = from_lots(list(taken.values()), rows[0].unit)
    return ", ".join(filter(None, [said, f"{amount(short)} {rows[0].unit} short" if short > 0 else ""]))


@register.filter
def step_takes(card: StepCard) -> str:
    """Return how long a step takes the hands, and that somebody stays with it."""
    if card.time is None:
        return ""
    if not card.time.work_minutes and not card.step.dwell_minutes:
        return "Not timed."
    minutes = max(half_up(card.time.work_minutes, Fraction(1)), Fraction(1))
    said = f"{duration(minutes)} of work" if card.time.work_minutes else ""
    return f"{said}{', stay with it' if said and card.step.attended else ''}{'.' if said else ''}"


@register.filter
def taken(card: StepCard, load: LoadPlan) -> list[tuple[list[Poured], str]]:
    """Return what a step takes, with what each pane takes and what is left; mixes that share alike said together."""
    found: list[tuple[list[Poured], str]] = []
    for poured in card.poured:
        words = _shares(poured, load)
        if found and found[-1][1] == words and found[-1][0][0].load_ml == poured.load_ml:
            found[-1][0].append(poured)
        else:
            found.append(([poured], words))
    return [(mixes, f"of each, {words}" if len(mixes) > 1 and words else words) for mixes, words in found]


def _shares(poured: Poured, load: LoadPlan) -> str:
    said = [f"mixed with load {poured.mixed_with}"] if poured.mixed_with else []
    if len(load.load.panes) > 1:
        alike = poured.panes_alike
        said += [
            f"{'each pane' if len(alike) == 1 else ', '.join(labels)} {pour(volume)}\N{NO-BREAK SPACE}mL"
            for labels, volume in alike
        ]
    if poured.left_ml:
        said.append(f"left in jug {pour(poured.left_ml)}\N{NO-BREAK SPACE}mL")
    return "; ".join(said)


@register.filter
def guide(card: MixCard, rows: Sequence[TicketIngredient]) -> str:
    """Return about how much is added to make up, where anything but it has a volume."""
    return "" if all(row.amount == making.volume_ml for making, row in zip(card.makings, rows, strict=True)) else (
        f"(about {each_amount(rows)} {rows[0].unit})")
