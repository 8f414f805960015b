"""How a job's panes and loads stand at the bench, and what happened to them: of every run, finished or open."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction

from django.urls import reverse

from jobs.estimating.basis import HoleFacts
from jobs.estimating.hole_words import from_saved
from jobs.models import Job, PaneResult, Run, RunEntry
from jobs.work.bench import DONE, GOOD, NOT_STARTED, SPOILT
from jobs.work.entries import Entries, done_at, step_and_pane, who
from jobs.work.ticket_plan import TicketLoad, TicketPane, TicketPlan, TicketRecipe
from jobs.work.ticketing import plan_of
from recipes.models import MakingSafe
from studio.kit.asking import among
from studio.kit.typed_numbers import is_whole, whole_number

Kind = RunEntry.Kind
#: how a pane stands, beside the words of a step
ORDERED, OFFERED, WAITS = "ordered", "offered", "waits"
MADE_SAFE = "Leftovers and first rinse made safe."


@dataclass(frozen=True, kw_only=True)
class Event:
    sentence: str
    when: datetime
    who: str = ""
    link: str = ""
    tone: str = ""


@dataclass(frozen=True, kw_only=True)
class PaneStands:
    """A pane to be drawn: what it is and how it stands, in words. Lengths in mm."""

    label: str
    finish: str
    shape: str
    width_mm: Fraction
    height_mm: Fraction
    word: str
    spare: bool = False
    begun: bool = False
    spoilt: bool = False
    line: int = 0
    holes: Sequence[HoleFacts] = ()

    @property
    def css(self) -> str:
        """Return how it is drawn: a spoilt one crossed, one that waits empty, a spare that waits dashed."""
        drawn = "spoilt" if self.spoilt else "" if self.begun else "waits"
        return f"{drawn} spare" if self.spare else drawn


@dataclass(frozen=True, kw_only=True)
class BenchStory:
    """events: what happened, in any order; now: what is under way, "" off the bench; loads: how each load stands.

    began: whether anything was ever recorded on the bench.
    """

    panes: list[PaneStands]
    events: list[Event] = field(default_factory=list)
    now: str = ""
    loads: list[str] = field(default_factory=list)
    began: bool = False


def bench_story(job: Job) -> BenchStory:
    """Return how the panes of a job stand. job: with lines, tickets and runs fetched. Three queries, however many."""
    runs = [(ticket.own_run, plan_of(ticket)) for ticket in reversed(job.tickets.all()) if ticket.own_run]
    if not runs:
        return BenchStory(panes=_as_ordered(job))
    entries: dict[int, list[RunEntry]] = {run.pk: [] for run, _ in runs}
    for entry in among(RunEntry.objects.select_related("by").order_by("pk"), "run_id", entries):
        entries[entry.run_id].append(entry)
    results = {(row.run_id, row.label): row for row in among(PaneResult.objects.order_by("pk"), "run_id", entries)}
    safe = among(MakingSafe.objects.select_related("by"), "clocks__of_run__run_id", entries)
    panes: dict[str, PaneStands] = {}
    safe_events = [_made_safe(row) for row in {row.pk: row for row in safe}.values()]
    events: list[Event] = []
    ends: list[Event] = []
    loads: list[str] = []
    began = False
    for run, plan in runs:
        told = _RunTold(run, plan, sorted(entries[run.pk], key=lambda entry: entry.pk),
                        {label: row for (pk, label), row in results.items() if pk == run.pk})
        events += told.events()
        began = began or told.began
        ends += [*(told.ticked_safe() if not safe_events else ()), *told.end()]
        panes |= {pane.label: pane for pane in told.panes()}
        if run.is_open and told.began:
            loads += told.loads()
    return BenchStory(panes=list(panes.values()), events=[*events, *safe_events, *ends], loads=loads,
                      began=began, now="The run is on the bench." if loads else "")


def _as_ordered(job: Job) -> list[PaneStands]:
    return [
        PaneStands(label=f"{line.number}.{copy}", finish=line.recipe_version.finish.code, shape=line.shape,
                   width_mm=Fraction(line.width_mm), height_mm=Fraction(line.height_mm), line=line.number,
                   word=OFFERED if line.offered else ORDERED, holes=from_saved(line.holes))
        for line in job.order.lines.all() for copy in range(1, line.quantity + 1)
    ]


def _made_safe(row: MakingSafe) -> Event:
    return Event(sentence=MADE_SAFE, when=row.done_at, who=row.by.name)


def _not_done(entry: RunEntry) -> bool:
    """Say whether all that an entry records is that something was not done, as of a job that is cancelled."""
    return (entry.kind == Kind.MIXED and not (entry.content["made"] or entry.content.get("lot"))) or (
        entry.kind == Kind.SPRAYED and not entry.content["sprayed"])


class _RunTold:
    """One run as its entries tell it."""

    def __init__(self, run: Run, plan: TicketPlan, entries: Sequence[RunEntry], results: dict[str, PaneResult]) -> None:
        self.run, self.plan, self.results = run, plan, results
        self.all = [entry for entry in entries if not _not_done(entry)]
        self.counts = Entries(entries)
        self.link = reverse("jobs:run", args=[run.pk])

    @property
    def began(self) -> bool:
        return bool(self.all)

    def events(self) -> Iterable[Event]:
        if self.all:
            first = min(self.all, key=done_at)
            yield Event(sentence=f"{self.run.ticket}: work at the bench began.", when=done_at(first), who=who(first),
                        link=self.link)
        for anchor, (recipe, load) in self.plan.loads_by_anchor.items():
            done = self._steps_done(anchor)
            if done and len(done) == len(load_steps(recipe)):
                last = max(done.values(), key=done_at)
                yield Event(sentence=f"{self._name(recipe, load)}: every step done.", when=done_at(last), who=who(last))
        for label in self.counts.subjects(Kind.PANE):
            entry = self.counts.newest(Kind.PANE, label)
            if entry is not None and entry.content["outcome"] == SPOILT:
                because = f": “{entry.content['because']}”" if entry.content["because"] else ""
                yield Event(sentence=f"Pane {label} spoilt{because}.", when=done_at(entry), who=who(entry),
                            tone="danger")

    def end(self) -> Iterable[Event]:
        if self.run.finished_at is not None and self.run.finished_by is not None:
            ended = "stopped" if self.run.stopped else "finished"
            yield Event(sentence=f"{self.run.ticket}: the run {ended}; what it used is deducted.",
                        when=self.run.finished_at, who=self.run.finished_by.name, link=self.link)

    def ticked_safe(self) -> Iterable[Event]:
        """A run that mixed nothing ammoniacal has no clock: its tick is told."""
        entry = self.counts.newest(Kind.MADE_SAFE)
        if entry is not None:
            yield Event(sentence=MADE_SAFE, when=done_at(entry), who=who(entry))

    def loads(self) -> list[str]:
        mixed = sum(1 for mix in self.plan.mixes if self.counts.newest(Kind.MIXED, mix.key) is not None)
        said = [f"{mixed} of {len(self.plan.mixes)} mixes recorded."]
        for anchor, (recipe, load) in self.plan.loads_by_anchor.items():
            done, steps = self._steps_done(anchor), load_steps(recipe)
            following = next((step for step in steps if step not in done), None)
            name = self._name(recipe, load)
            if following is None:
                said.append(f"{name}: every step is done.")
            elif done:
                said.append(f"{name}: step {following} is next.")
            else:
                said.append(f"{name} waits.")
        return said

    def _name(self, recipe: TicketRecipe, load: TicketLoad) -> str:
        many = len(self.plan.recipes) > 1
        return f"{recipe.finish}, load {load.number}" if many else f"Load {load.number}"

    def _steps_done(self, anchor: str) -> dict[int, RunEntry]:
        """Return the steps of a load that are done, of any of its panes, by number."""
        done = {}
        for subject in self.counts.subjects(Kind.STEP):
            name, _ = step_and_pane(subject)
            at, _, number = name.rpartition("s")
            entry = self.counts.newest(Kind.STEP, subject)
            if at == anchor and is_whole(number) and entry is not None and entry.content["did"] == DONE:
                done[whole_number(number)] = entry
        return done

    def panes(self) -> Iterable[PaneStands]:
        at_step: dict[str, str] = {}
        for anchor, (recipe, load) in self.plan.loads_by_anchor.items():
            done = self._steps_done(anchor)
            if done:
                following = next((step for step in load_steps(recipe) if step not in done), None)
                at_step |= dict.fromkeys(load.panes, f"step {following}" if following else "dries")
        for pane in self.plan.panes:
            yield self._stands(pane, at_step.get(pane.label, ""))

    def _stands(self, pane: TicketPane, at_step: str) -> PaneStands:
        entry, result = self.counts.newest(Kind.PANE, pane.label), self.results.get(pane.label)
        outcome = entry.content["outcome"] if entry else ""
        if result is not None:
            outcome = GOOD if result.good else SPOILT
        over = self.run.finished_at is not None
        word = {GOOD: "good", SPOILT: "spoilt", NOT_STARTED: "not started"}.get(outcome) or at_step or (
            "not started" if over else WAITS)
        return PaneStands(
            label=pane.label, finish=pane.recipe.rpartition("/")[0], shape=pane.shape, width_mm=pane.width_mm,
            height_mm=pane.height_mm, word=word, spare=pane.spare, spoilt=outcome == SPOILT, line=pane.line,
            begun=outcome == GOOD or bool(at_step), holes=pane.holes,
        )


def load_steps(recipe: TicketRecipe) -> list[int]:
    """Return the numbers of a recipe's steps in order."""
    return [step.number for step in recipe.steps]
