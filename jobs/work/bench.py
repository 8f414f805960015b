"""What is recorded on the bench while a run goes on: appended, never edited; the newest of a subject counts."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import F

from jobs.models import Job, Run, RunEntry, WaitingRecord
from jobs.work import states
from jobs.work.clock import clocks_of, start_of_mix, start_of_spraying
from jobs.work.entries import Entries, done_at, in_the_mix, making_number, making_subject, who
from jobs.work.known_now import known_now
from jobs.work.pane_meetings import Meeting, is_ammoniacal, meetings_of
from jobs.work.ticket_plan import TicketMix, TicketPlan
from jobs.work.ticketing import plan_of
from recipes.clocks import Standing, moment_done, standing
from studio.exact import STOCK_DECIMALS
from studio.house.clock import now
from studio.house.models import House, Person
from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal

Kind = RunEntry.Kind
GOOD, SPOILT, NOT_STARTED = "good", "spoilt", "not started"
OUTCOMES = (GOOD, SPOILT, NOT_STARTED)
#: what is recorded of a step
BEGAN, DONE = "began", "done"
#: what stands beside a record's own values: whose it is, and what is still asked of it
_BESIDE = ("done_by", "asked")


class BenchError(DaybookError):
    """Something on the bench is missing or cannot be recorded."""


@transaction.atomic
def note(
    *, run: Run, by: Person, client_key: UUID, kind: str, content: dict[str, Any], subject: str = "",
    device_at: datetime | None = None, after: str | None = None,
) -> RunEntry:
    """Add an entry; sent twice with one key it counts once. The first one puts the job on the bench.

    device_at: when it was done, where it is entered later. Ammoniacal silver that is recorded as mixed, or as first
    sprayed, starts its clock then. after: the key of the newest record of a mix that its maker knew of, "" none, None
    where that is not said: a making recorded by somebody else meanwhile is counted once and asked about.
    Raises BenchError, or ClockRefused for a time still to come.
    """
    known = RunEntry.objects.filter(client_key=client_key).first()
    if known is not None:
        return known
    run = Run.objects.select_for_update(of=("self",)).select_related("ticket").get(pk=run.pk)
    if run.finished_at is not None:
        raise BenchError("This run is finished: nothing more can be recorded on it.")
    job = Job.objects.select_for_update(of=("self",)).select_related("quote").get(pk=run.ticket.job_id)
    states.check(job.state, states.RECORD, BenchError)
    if job.quote is not None and job.quote.made_at > run.ticket.made_at:
        raise BenchError(f"The order of {job} was changed after {run.ticket} was printed: have it printed anew first.")
    if kind == Kind.MADE_SAFE and "mixes" not in content:
        if clocks_of(run).filter(made_safe=None).exists():
            raise BenchError("Tick each mix that was made safe.", "clocks")
        _refuse_before_a_mix(run)
    if device_at is not None:
        device_at = moment_done(device_at)
    if kind == Kind.MIXED and after is not None:
        newest = Entries(run.entries.all()).newest(kind, subject)
        if newest is not None and str(newest.client_key) != after:
            content = {**content, "unseen": str(newest.client_key)}
    Job.objects.filter(pk=job.pk).exclude(state=Job.State.ON_THE_BENCH).update(
        state=Job.State.ON_THE_BENCH, saves=F("saves") + 1
    )
    entry = RunEntry.objects.create(
        run=run, client_key=client_key, kind=kind, subject=subject, content=content, device_at=device_at, at=now(),
        by=by,
    )
    if kind == Kind.MIXED and content["made"]:
        start_of_mix(run=run, plan=known_now(plan_of(run.ticket)), subject=subject, by=by, client_key=client_key,
                     done_at=device_at)
    if kind == Kind.SPRAYED and content["sprayed"]:
        start_of_spraying(run=run, plan=known_now(plan_of(run.ticket)), subject=subject, by=by, client_key=client_key,
                          done_at=device_at)
    return entry


def _refuse_before_a_mix(run: Run) -> None:
    """Refuse to record as made safe what was not mixed yet: while batches wait, one at least is there."""
    entries = Entries(run.entries.filter(kind__in=[Kind.MIXED, Kind.UNDONE]))
    newest = {subject: entry.content for subject in entries.subjects(Kind.MIXED)
              if (entry := entries.newest(Kind.MIXED, subject)) is not None}
    waiting = {mix.key for mix in plan_of(run.ticket).mixes} - newest.keys()
    if waiting and not any(content["made"] or content.get("lot") for content in newest.values()):
        raise BenchError("Nothing is mixed yet: record the mixes first, then that they were made safe.", "by_procedure")


@dataclass(frozen=True, kw_only=True)
class MixState:
    """A batch on the ticket and what was recorded of it: amounts by ingredient number, or None so far.

    making: 1; a batch that was mixed again is a further making, with its reason. record: the key of what counts.
    twice: what was recorded of the same making by somebody who did not know of it, and by whom; it is asked.
    asked: what was unusual about it and could not be asked while there was no network.
    """

    mix: TicketMix
    making: int = 1
    because: str = ""
    record: str = ""
    twice: RunEntry | None = None
    asked: tuple[str, ...] = ()
    made: bool | None = None
    amounts: dict[int, Decimal] = field(default_factory=dict)
    by: str = ""
    #: what was asked of unusual amounts, and answered as meant so
    meant_so: tuple[str, ...] = ()
    #: the lot mixed ahead that it was taken from instead of being mixed
    lot: int | None = None
    lot_number: str = ""
    #: the lots its ingredients were taken from, by ingredient number, with how much; none: nobody said
    lots: dict[int, list[tuple[str, Decimal]]] = field(default_factory=dict)
    #: when it was mixed, or recorded
    at: datetime | None = None

    @property
    def key(self) -> str:
        """Return its name on the bench: the batch's, with the number of a further making."""
        return making_subject(self.mix.key, self.making)

    @property
    def is_ammoniacal(self) -> bool:
        return is_ammoniacal(self.mix)

    def amount_of(self, number: int) -> Decimal:
        """Return what was recorded, or what the ticket says."""
        planned = next(ingredient.amount for ingredient in self.mix.ingredients if ingredient.number == number)
        return self.amounts.get(number, planned)

    @property
    def questions(self) -> list[str]:
        """Return what is to be answered before the run ends."""
        found = [f"{self.mix.solution}: {sentence} Record it again, or say that it is meant so."
                 for sentence in self.asked]
        if self.twice is not None:
            found.append(f"{self.mix.solution} was recorded by {who(self.twice)} and by {self.by}, who did not know "
                         "of each other: say whether it was mixed once or twice.")
        return found

    @property
    def rows(self) -> list[tuple[Any, Decimal]]:
        return [(ingredient, self.amount_of(ingredient.number)) for ingredient in self.mix.ingredients]

    @property
    def how(self) -> str:
        """Return what was recorded of it, and by whom, in words."""
        if self.made is None:
            return "not recorded yet"
        if not self.made:
            return f"{f'taken from lot {self.lot_number}' if self.lot else 'not mixed'}, {self.by}"
        again = f", making {self.making}: {self.because}" if self.because else ""
        return f"mixed {'as written' if self.as_written else 'with other amounts'}, {self.by}{again}"

    @property
    def as_written(self) -> bool:
        return bool(self.made) and all(
            self.amount_of(ingredient.number) == ingredient.amount for ingredient in self.mix.ingredients
        )


@dataclass(frozen=True, kw_only=True)
class SprayingState:
    """Stocks that meet on the panes of a load: whether they were sprayed (None: nobody said), by whom, and when."""

    meeting: Meeting
    sprayed: bool | None = None
    by: str = ""
    at: datetime | None = None


@dataclass(frozen=True, kw_only=True)
class StepState:
    """What was recorded of a step of a load, or of one pane of it: when it began and was done, and by whom."""

    subject: str
    began: datetime | None = None
    done: datetime | None = None
    by: str = ""
    record: str = ""


@dataclass(frozen=True, kw_only=True)
class PaneState:
    """A pane of the run. outcome: "" so far, or one of OUTCOMES; a spare may never be started."""

    label: str
    outcome: str = ""
    attempts: int = 1
    because: str = ""


@dataclass(frozen=True, kw_only=True)
class BenchState:
    """Everything recorded of a run, the newest of each subject."""

    plan: TicketPlan
    conditions: dict[str, str]
    mixes: list[MixState]
    panes: list[PaneState]
    sheets: dict[str, int]
    minutes: dict[str, Decimal]
    notes: list[RunEntry]
    made_safe: RunEntry | None
    sprayings: list[SprayingState] = field(default_factory=list)
    #: ammoniacal silver of the run that still stands, the longest first
    standing: list[Standing] = field(default_factory=list)
    #: glasses, by code, of which somebody recorded how many sheets were cut
    cut: frozenset[str] = frozenset()
    #: what was recorded of steps, and which ingredients of a batch are in, by their subjects
    steps: dict[str, StepState] = field(default_factory=dict)
    added: dict[str, tuple[int, ...]] = field(default_factory=dict)
    #: what was sent and could not be taken as it was
    waiting: list[WaitingRecord] = field(default_factory=list)
    entries: Entries = field(default_factory=lambda: Entries(()))

    @property
    def missing(self) -> list[tuple[str, str]]:
        """Return what stands between this run and its end: a sentence and the part of the page it concerns."""
        found = []
        if not self.conditions:
            found.append(("Record the conditions.", "conditions"))
        unmixed = [state.key for state in self.mixes if state.made is None]
        if unmixed:
            found.append((f"{len(unmixed)} of {len(self.mixes)} mixes are not recorded yet.", "mixes"))
        unjudged = [pane.label for pane in self.panes if not pane.outcome]
        if unjudged:
            found.append((f"Say how these panes came out: {', '.join(unjudged)}.", "panes"))
        unsaid = [spraying.meeting.what for spraying in self.sprayings if spraying.sprayed is None]
        if unsaid:
            found.append((f"Say when these were first sprayed: {'; '.join(unsaid)}.", "sprayings"))
        if self.standing:
            what = "; ".join(silver.row.what for silver in self.standing)
            found.append((f"Record that what still stands was made safe: {what}.", "made-safe"))
        elif self.made_safe is None:
            found.append(("Tick that leftovers and first rinse were made safe.", "made-safe"))
        found += [(f"{record} of {record.done_by or record.by.name}, sent later, could not be taken: {record.why}",
                   "waiting") for record in self.waiting]
        found += [(question, "mixes") for state in self.mixes for question in state.questions]
        found += self._asked_beside_mixes()
        found += [(f"Pane {label} is good, and its silver, {what}, is recorded as not mixed: record how it was "
                   "silvered.", "mixes") for label, what in self._silvered_with_nothing()]
        return found

    def _asked_beside_mixes(self) -> list[tuple[str, str]]:
        """Return what was unusual about the glass, conditions and time that were recorded without network."""
        subjects = [(Kind.CONDITIONS, "", "conditions"), (Kind.TIME, "", "time"),
                    *((Kind.GLASS, glass.code, "glass") for glass in self.plan.glass)]
        newest = [(self.entries.newest(kind, subject), part) for kind, subject, part in subjects]
        return [(f"{sentence} Record it again, or say that it is meant so.", part) for entry, part in newest if entry
                for sentence in entry.content.get("asked", ())]

    def _silvered_with_nothing(self) -> list[tuple[str, str]]:
        """Return the good panes of loads whose ammoniacal silver is recorded as neither mixed nor taken from a lot."""
        good = {pane.label for pane in self.panes if pane.outcome == GOOD}
        found = []
        for recipe in self.plan.recipes:
            for load in recipe.loads:
                silver = [state for state in self.mixes if state.is_ammoniacal and state.mix.recipe == recipe.key
                          and state.mix.serves(load.number)]
                if silver and all(state.made is False and state.lot is None for state in silver):
                    found += [(label, silver[0].mix.solution) for label in load.panes if label in good]
        return found


def bench_state(run: Run) -> BenchState:
    """Read a run's entries into its state, of one that goes on by what is known now of what is in its mixes.

    A fixed number of queries.
    """
    plan = plan_of(run.ticket)
    if run.finished_at is None:
        plan = known_now(plan)
    entries = Entries(run.entries.select_related("by"))
    conditions, times = entries.newest(Kind.CONDITIONS), entries.newest(Kind.TIME)
    cut = {glass.code: entries.newest(Kind.GLASS, glass.code) for glass in plan.glass}
    return BenchState(
        plan=plan, entries=entries,
        conditions={name: value for name, value in (conditions.content if conditions else {}).items()
                    if name not in _BESIDE},
        mixes=[mix_state(mix, making, entries) for mix in plan.mixes
               for making in (mix.key, *entries.makings(mix.key))],
        panes=[_pane_state(pane.label, entries.newest(Kind.PANE, pane.label)) for pane in plan.panes],
        sheets={glass.code: entry.content["sheets"] if (entry := cut[glass.code]) is not None else glass.sheets
                for glass in plan.glass},
        minutes={hands: Decimal(times.content[hands]) for hands in ("helper", "owner")
                 if times is not None and hands in times.content},
        notes=entries.all_of(Kind.NOTE), made_safe=entries.newest(Kind.MADE_SAFE),
        sprayings=[_spraying_state(meeting, entries.newest(Kind.SPRAYED, meeting.key))
                   for meeting in meetings_of(plan)],
        standing=standing_of_run(run),
        cut=frozenset(code for code, entry in cut.items() if entry is not None),
        steps={subject: _step_state(subject, entries.all_of(Kind.STEP, subject))
               for subject in entries.subjects(Kind.STEP)},
        added={subject: in_the_mix(entries.all_of(Kind.ADDED, subject)) for subject in entries.subjects(Kind.ADDED)},
        waiting=list(run.waiting.filter(settled_at=None).select_related("by")),
    )


def standing_of_run(run: Run) -> list[Standing]:
    """Return the ammoniacal silver of a run that is not made safe yet."""
    rows = list(clocks_of(run).filter(made_safe=None))
    return standing(rows, House.objects.get()) if rows else []


def _spraying_state(meeting: Meeting, entry: RunEntry | None) -> SprayingState:
    if entry is None:
        return SprayingState(meeting=meeting)
    return SprayingState(meeting=meeting, sprayed=entry.content["sprayed"], by=who(entry),
                         at=entry.device_at or entry.at)


def _step_state(subject: str, entries: list[RunEntry]) -> StepState:
    """Return how a step stands: begun once more after it was done, it is under way again."""
    began = next((done_at(entry) for entry in reversed(entries) if entry.content["did"] == BEGAN), None)
    newest = entries[-1]
    return StepState(subject=subject, began=began, by=who(newest), record=str(newest.client_key),
                     done=done_at(newest) if newest.content["did"] == DONE else None)


def mix_state(mix: TicketMix, subject: str, entries: Entries) -> MixState:
    entry, making = entries.newest(Kind.MIXED, subject), making_number(subject)
    if entry is None:
        return MixState(mix=mix, making=making)
    amounts = {int(number): Decimal(amount) for number, amount in entry.content["amounts"].items()}
    return MixState(mix=mix, making=making, because=entry.content.get("because", ""), record=str(entry.client_key),
                    twice=entries.other_side(entry), asked=tuple(entry.content.get("asked", ())),
                    made=entry.content["made"], amounts=amounts, by=who(entry),
                    meant_so=tuple(entry.content.get("meant_so", {}).values()),
                    lot=entry.content.get("lot"), lot_number=entry.content.get("lot_number", ""),
                    lots={int(number): [(lot, Decimal(amount)) for lot, amount in taken]
                          for number, taken in entry.content.get("lots", {}).items()},
                    at=entry.device_at or entry.at)


def _pane_state(label: str, entry: RunEntry | None) -> PaneState:
    if entry is None:
        return PaneState(label=label)
    content = entry.content
    return PaneState(label=label, outcome=content["outcome"], attempts=content["attempts"], because=content["because"])


def taken_from_lots(state: BenchState) -> dict[int, Decimal]:
    """Return how much was taken of each lot mixed ahead, in mL, by its id."""
    taken: dict[int, Decimal] = {}
    for mix in state.mixes:
        if mix.lot is not None:
            taken[mix.lot] = taken.get(mix.lot, Decimal(0)) + as_decimal(mix.mix.volume_ml, STOCK_DECIMALS)
    return taken


def used_of_lots(state: BenchState) -> dict[tuple[str, str], Decimal]:
    """Return what was recorded as taken from which lot, by material code and lot number."""
    taken: dict[tuple[str, str], Decimal] = {}
    for mix in state.mixes:
        for ingredient in mix.mix.ingredients if mix.made else ():
            for lot, amount in mix.lots.get(ingredient.number, ()) if ingredient.code else ():
                if amount > 0:
                    taken[ingredient.code, lot] = taken.get((ingredient.code, lot), Decimal(0)) + amount
    return taken


def used_amounts(state: BenchState, *, recorded_only: bool = False) -> dict[str, Decimal]:
    """Return the amounts used by material code: every batch made, and the sheets of glass.

    recorded_only: sheets that nobody recorded are not taken as the ticket says.
    """
    used: dict[str, Decimal] = {}
    for mix in state.mixes:
        for ingredient in mix.mix.ingredients if mix.made else ():
            if ingredient.code and mix.amount_of(ingredient.number) > 0:
                used[ingredient.code] = used.get(ingredient.code, Decimal(0)) + mix.amount_of(ingredient.number)
    for code, sheets in state.sheets.items():
        if sheets > 0 and (code in state.cut or not recorded_only):
            used[code] = used.get(code, Decimal(0)) + sheets
    return used
