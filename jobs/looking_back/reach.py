"""Where lots went, and what panes hold: by load, pane and mix, in the lot's own unit; recorded, or only possible."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from fractions import Fraction

from jobs.looking_back.lot_graph import LotGraph, backward, forward
from jobs.looking_back.portions import NOTHING, Portion, shares_by_pane
from jobs.models import Job, PaneResult, Run
from jobs.work.recorded import RunRecord
from jobs.work.ticket_plan import TicketMix, TicketPlan, load_anchor
from recipes.models import Trial
from studio.kit.asking import among
from studio.stockroom.models import Lot


@dataclass(frozen=True, kw_only=True)
class PaneTaken:
    """A pane and how much of a lot went on it. came_out: good, spoilt, or nothing so far."""

    label: str
    portion: Portion
    came_out: str = ""

    @property
    def amount(self) -> Fraction:
        return self.portion.most


@dataclass(frozen=True, kw_only=True)
class Reached:
    """A load of a run, or a trial, that a lot touched or may have touched.

    part: the load by its name in a row, r1l2; “glass”; the trial; "" for what is of no load (a mix for the whole job
    that no pane got).
    portion: of all its mixes, what was left in the jug included. planned: nothing of it is mixed yet.
    """

    lot: Lot
    part: str
    name: str
    load: str
    mixes: tuple[str, ...] = ()
    panes: tuple[PaneTaken, ...] = ()
    portion: Portion = NOTHING
    via: tuple[str, ...] = ()
    run: Run | None = None
    trial: Trial | None = None
    planned: bool = False
    is_glass: bool = False
    at: datetime | None = None

    @property
    def is_certain(self) -> bool:
        return self.portion.is_certain

    @property
    def amount(self) -> Fraction:
        return self.portion.most

    @property
    def standing(self) -> str:
        """Return how sure it is: recorded, possible, or still to come."""
        if self.planned:
            return "stands on its ticket"
        return "recorded" if self.is_certain else "possible"

    @property
    def unit(self) -> str:
        return self.lot.material.stock_unit

    @property
    def job(self) -> Job | None:
        return self.run.ticket.job if self.run is not None else None

    @property
    def customer(self) -> str:
        return self.run.ticket.job.order.customer.name if self.run is not None else ""


def loads_of(plan: TicketPlan) -> dict[str, tuple[str, str]]:
    """Return the load of each pane: its name in a row (r1l2), and in words."""
    several = len(plan.recipes) > 1
    return {
        label: (anchor, f"load {load.number}" + (f" of {recipe.finish}" if several else ""))
        for anchor, (recipe, load) in plan.loads_by_anchor.items() for label in load.panes
    }


@dataclass
class _Part:
    """What is gathered of one load."""

    load: str = ""
    mixes: dict[str, None] = field(default_factory=dict)
    panes: dict[str, Portion] = field(default_factory=lambda: defaultdict(lambda: NOTHING))
    portion: Portion = NOTHING
    through: dict[int, None] = field(default_factory=dict)
    planned: bool = True
    at: list[datetime] = field(default_factory=list)


def reached_by(lots: Sequence[Lot]) -> dict[int, list[Reached]]:
    """Return what each lot touched, may have touched or is to be taken for, by its id.

    Queries grow with the depth of nesting, not with rows.
    """
    graph = forward(lots)
    came_out = _came_out(graph.records)
    runs = graph.runs_reached(lot.pk for lot in lots)
    shares = {pk: shares_by_pane(graph.records[pk].plan, graph.records[pk].mixes, graph.records[pk].not_started)
              for pk in {pk for mine in runs.values() for pk in mine}}
    return {
        lot.pk: [
            *(found for pk in runs[lot.pk]
              for found in _in_run(lot, graph, pk, shares[pk], came_out.get(pk, {}))),
            *_in_trials(lot, graph),
        ]
        for lot in lots
    }


def _came_out(records: Mapping[int, RunRecord]) -> dict[int, dict[str, str]]:
    found: dict[int, dict[str, str]] = defaultdict(dict)
    for result in among(PaneResult.objects.all(), "run_id", records):
        found[result.run_id][result.label] = "good" if result.good else "spoilt"
    return found


def _in_run(
    lot: Lot, graph: LotGraph, pk: int, shares: Mapping[str, Mapping[str, Fraction]], came_out: Mapping[str, str],
) -> Iterable[Reached]:
    record = graph.records[pk]
    loads, run = loads_of(record.plan), record.run
    names = dict(loads.values())
    parts: dict[str, _Part] = defaultdict(_Part)
    for state in record.mixes:
        contents = graph.contents[pk][state.key]
        portion = graph.of_source(contents, lot.pk)
        if portion == NOTHING:
            continue
        of_panes = shares[state.key]
        for anchor, of_load in (_by_touched(of_panes, loads) or _by_load(state.mix, record.plan)).items():
            part = parts[anchor]
            part.planned = False
            part.mixes[state.mix.solution] = None
            mine = {label: share for label, share in of_panes.items() if loads.get(label, ("",))[0] == anchor}
            if not state.mix.inside or not mine:
                part.portion += portion.times(of_load)
            for label, share in mine.items():
                # what went in with another mix of the ticket is counted in that one
                if not state.mix.inside:
                    part.panes[label] += portion.times(share)
            part.through |= dict.fromkeys(contents)
            part.at.append(record.last_at.get(state.key, run.opened_at))
    for state in record.mixes:
        contents = graph.planned[pk].get(state.key, {})
        portion = graph.of_source(contents, lot.pk)
        for anchor, of_load in _by_load(state.mix, record.plan).items() if portion != NOTHING else ():
            part = parts[anchor]
            part.mixes[state.mix.solution] = None
            if part.planned:
                part.portion += portion.times(of_load)
    for anchor, part in sorted(parts.items()):
        yield Reached(
            lot=lot, run=run, part=anchor, load=names.get(anchor, ""), name=f"{run.ticket.job}, {run.ticket}",
            mixes=tuple(part.mixes), portion=part.portion, via=graph.via(part.through, lot.pk), planned=part.planned,
            panes=tuple(PaneTaken(label=pane.label, portion=part.panes[pane.label],
                                  came_out=came_out.get(pane.label, ""))
                        for pane in record.plan.panes if pane.label in part.panes),
            at=_touched_at(run, part),
        )
    if lot.pk in graph.glass[pk]:
        names_of = {glass.name for glass in record.plan.glass if glass.code == lot.material.code}
        panes = [pane.label for pane in record.plan.panes if pane.glass in names_of and pane.route == "sheet"
                 and (pane.label in came_out or not came_out)]
        yield Reached(
            lot=lot, run=run, part="glass", load="", name=f"{run.ticket.job}, {run.ticket}", is_glass=True,
            panes=tuple(PaneTaken(label=label, portion=NOTHING, came_out=came_out.get(label, "")) for label in panes),
            portion=Portion(possible=Fraction(graph.glass[pk][lot.pk])), at=run.finished_at,
        )


def _touched_at(run: Run, part: _Part) -> datetime:
    """Return when it was last touched: at the mix; where nobody recorded the lot there, when it was deducted."""
    if part.portion.is_certain or run.finished_at is None:
        return max(part.at, default=run.opened_at)
    return run.finished_at


def _by_touched(
    of_panes: Mapping[str, Fraction], loads: Mapping[str, tuple[str, str]],
) -> dict[str, Fraction]:
    """Return the share of a mix that is each load's, by what its panes got; nothing where no pane got any."""
    whole, found = sum(of_panes.values(), Fraction(0)), defaultdict[str, Fraction](Fraction)
    for label, share in of_panes.items():
        if label in loads and whole:
            found[loads[label][0]] += share / whole
    return dict(found)


def _by_load(mix: TicketMix, plan: TicketPlan) -> dict[str, Fraction]:
    """Return the share of a mix that is for each load it serves, as planned; of one for the whole job no load's."""
    at = next((number for number, found in enumerate(plan.recipes, start=1) if found.key == mix.recipe), None)
    if at is None or mix.load is None:
        return {"": Fraction(1)}
    whole = sum(mix.shared_ml.values(), Fraction(0))
    if not whole:
        return {load_anchor(at, mix.load): Fraction(1)}
    return {load_anchor(at, load): Fraction(volume) / whole for load, volume in mix.shared_ml.items()}


def _in_trials(lot: Lot, graph: LotGraph) -> Iterable[Reached]:
    found: dict[int, Reached] = {}
    for use, taken, amount in graph.trials:
        portion = Portion(recorded=Fraction(amount)).of(graph.holds(taken, lot.pk))
        if portion == NOTHING:
            continue
        trial = use.trial
        before = found.get(trial.pk) or Reached(
            lot=lot, trial=trial, part=f"trial {trial.number}", load="", name=f"{trial} of {trial.recipe_version}")
        via = tuple(dict.fromkeys([*before.via, *graph.via([taken], lot.pk)]))
        found[trial.pk] = replace(before, portion=before.portion + portion, via=via, at=use.posting.at)
    yield from found.values()


@dataclass(frozen=True, kw_only=True)
class PaneHolds:
    """A lot that went into a pane; via: the lot made here that it came in, "" where it was taken itself."""

    label: str
    lot: Lot
    portion: Portion
    via: str = ""

    @property
    def amount(self) -> Fraction:
        return self.portion.most

    @property
    def standing(self) -> str:
        return "recorded" if self.portion.is_certain else "possible"


def lots_in_panes(job: Job) -> list[PaneHolds]:
    """Return every lot in each pane of a job's runs and how much of it, lots made here with what they were made of."""
    runs = list(Run.objects.filter(ticket__job=job).select_related(
        "ticket__job__order__customer", "ticket__job__quote", "posting"))
    graph = backward(runs)
    found = []
    for run in sorted(runs, key=lambda row: row.ticket.number):
        record = graph.records[run.pk]
        shares = shares_by_pane(record.plan, record.mixes, record.not_started)
        for pane in record.plan.panes:
            held: dict[tuple[int, str], Portion] = defaultdict(lambda: NOTHING)
            for state in record.mixes:
                share = Fraction(0) if state.mix.inside else shares[state.key].get(pane.label, Fraction(0))
                for lot, portion in graph.contents[run.pk][state.key].items() if share else ():
                    held[lot, ""] += portion.times(share)
                    for inner, within in _inside(graph, lot):
                        held[inner, str(graph.lots[lot])] += portion.times(share).of(within)
            found += [PaneHolds(label=pane.label, lot=graph.lots[lot], portion=portion, via=via)
                      for (lot, via), portion in held.items()]
    return found


def _inside(graph: LotGraph, lot: int) -> Iterable[tuple[int, Portion]]:
    """Yield every lot in a lot made here, to any depth, and how much of it a unit holds."""
    within: dict[int, None] = {}
    level = list(graph.made_of.get(lot, ()))
    while level:
        within |= dict.fromkeys(level)
        level = [inner for found in level for inner in graph.made_of.get(found, ()) if inner not in within]
    for inner in within:
        yield inner, graph.holds(lot, inner)


