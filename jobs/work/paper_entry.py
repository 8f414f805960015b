"""What the blanks of a printed ticket say, entered at the desk on one page, in the ticket's order, all or nothing.

What is blank is not done, never as planned: it is recorded as not done only where somebody says that this is all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid5

from django import forms
from django.db import transaction

from jobs.models import Run, RunEntry
from jobs.work.bench import NOT_STARTED, BenchState, MixState, SprayingState, bench_state, note
from jobs.work.clock import clocks_of
from jobs.work.forms import ConditionsForm, TimeForm, as_content
from jobs.work.making_safe import make_run_safe
from jobs.work.paper_forms import AtForm, DayForm, PaperGlassForm, PaperMixForm, PaperPaneForm, PaperSafeForm
from jobs.work.work_plan import LoadPlan, MixCard, StepCard, work_plan
from recipes.clocks import ClockRefused
from studio.house.clock import today
from studio.house.models import House, Person
from studio.kit.errors import DaybookError
from studio.stockroom.models import Lot

Kind = RunEntry.Kind


class PaperRefused(DaybookError):
    """Something on the page cannot be recorded; the sentences stand beside it, and nothing was saved."""


@dataclass
class MixRow:
    """A batch in the ticket's order; form: None where it is recorded already."""

    letter: str
    state: MixState
    form: PaperMixForm | None

    is_mix = True


@dataclass
class StepRow:
    """A step in the ticket's order; form: of when its stocks were first sprayed, where that starts a clock."""

    card: StepCard
    spraying: SprayingState | None = None
    form: AtForm | None = None

    is_mix = False


@dataclass
class Side:
    """One side of the ticket: what is mixed for the whole job, or a load. load: None for the whole job."""

    load: LoadPlan | None
    rows: list[MixRow | StepRow] = field(default_factory=list)


class Paper:
    """The page: a form for each blank that is not recorded yet. data: what was sent, None for an empty page."""

    def __init__(self, run: Run, data: Any = None) -> None:
        self.newest = _newest(run)
        self.run, self.data, self.state = run, data, bench_state(run)
        self.day_form = DayForm(data, initial={"day": today()})
        self.day: date | None = None
        if self.day_form.is_bound:
            self.day_form.is_valid()
            self.day = self.day_form.cleaned_data.get("day")
        house = House.objects.first() or House()
        state = self.state
        self.sides = list(self._sides(_lots_of(state)))
        steps = [step for recipe in state.plan.recipes for step in recipe.steps]
        self.conditions = None if state.conditions else ConditionsForm(data, prefix="conditions", steps=steps)
        self.glass = [PaperGlassForm(data, glass=glass, prefix=f"glass-{glass.code}")
                      for glass in state.plan.glass if glass.code not in state.cut]
        self.panes = [(pane.label, PaperPaneForm(data, prefix=f"pane-{pane.label}"))
                      for pane in state.panes if not pane.outcome]
        self.time = None if state.minutes else TimeForm(data, prefix="time")
        self.safe = PaperSafeForm(data, prefix="safe", house=house, day=self.day)

    def _sides(self, lots: Mapping[str, list[str]]) -> Iterator[Side]:
        work = work_plan(self.state.plan)
        states = {state.mix.key: state for state in reversed(self.state.mixes)}  # of several makings, the first
        sprayings = {spraying.meeting.key: spraying for spraying in self.state.sprayings}

        def mix_rows(card: MixCard) -> list[MixRow]:
            rows = []
            for making in card.makings:
                state = states[making.key]
                form = PaperMixForm(self.data, state=state, lots=lots, day=self.day) if state.made is None else None
                rows.append(MixRow(letter=card.letter, state=state, form=form))
            return rows

        if work.whole_job:
            yield Side(load=None, rows=[row for card in work.whole_job for row in mix_rows(card)])
        for load in work.loads:
            side = Side(load=load)
            for card in load.cards:
                if isinstance(card, MixCard):
                    side.rows += mix_rows(card)
                    continue
                key = f"{load.anchor}s{card.step.number}"
                spraying = sprayings.get(key)
                form = AtForm(self.data, prefix=f"sprayed-{key}", day=self.day) if (
                    spraying is not None and spraying.sprayed is None) else None
                side.rows.append(StepRow(card=card, spraying=spraying, form=form))
            yield side

    @property
    def mix_rows(self) -> list[MixRow]:
        return [row for side in self.sides for row in side.rows if isinstance(row, MixRow)]

    @property
    def _spray_rows(self) -> list[StepRow]:
        return [row for side in self.sides for row in side.rows if isinstance(row, StepRow)]

    @property
    def _typed(self) -> list[forms.Form]:
        """Return the forms in which something is typed."""
        every: list[forms.Form | None] = [
            self.conditions, *(row.form for row in self.mix_rows), *(row.form for row in self._spray_rows), *self.glass,
            *(form for _, form in self.panes), self.time, self.safe,
        ]
        return [form for form in every if form is not None and form.has_changed()]

    @property
    def _recorded_meanwhile(self) -> list[str]:
        """Return what was typed of blanks that have no field any more, because somebody recorded them meanwhile."""
        state = self.state
        gone = {f"mix-{row.state.mix.key}-": row.state.mix.solution for row in self.mix_rows if row.form is None}
        gone |= {f"sprayed-{row.spraying.meeting.key}-": row.spraying.meeting.what for row in self._spray_rows
                 if row.spraying is not None and row.form is None}
        gone |= {f"pane-{pane.label}-": f"pane {pane.label}" for pane in state.panes if pane.outcome}
        gone |= {f"glass-{glass.code}-sheets": glass.name for glass in state.plan.glass if glass.code in state.cut}
        gone |= {"conditions-": "the conditions"} if self.conditions is None else {}
        gone |= {"time-": "the time at the bench"} if self.time is None else {}
        typed = [name for name, value in (self.data or {}).items()
                 if str(value).strip() and not name.endswith("-attempts")]  # how often it was started stands there
        return [words for prefix, words in gone.items() if any(name.startswith(prefix) for name in typed)]

    def check(self) -> None:
        """Raise PaperRefused where something that is typed cannot be, or nothing is."""
        meanwhile = self._recorded_meanwhile
        if meanwhile:
            raise PaperRefused(f"Recorded at the bench meanwhile: {'; '.join(meanwhile)}. What you typed of it is not "
                               "taken, and nothing is saved yet: look at what is recorded, then send the rest.")
        wrong = [form for form in [self.day_form, *self._typed] if not form.is_valid()]
        if wrong:
            raise PaperRefused("Nothing is saved yet: see what is written beside the fields.")
        if not self._typed and not self.day_form.cleaned_data["that_is_all"]:
            raise PaperRefused("Nothing is typed yet.")


def _lots_of(state: BenchState) -> dict[str, list[str]]:
    """Return the number of every lot of the materials that the ticket measures, by code. One query."""
    codes = {row.code for mix in state.mixes for row in mix.mix.ingredients if row.code}
    found: dict[str, list[str]] = {}
    for code, number in Lot.objects.filter(material__code__in=codes).order_by("pk").values_list(
            "material__code", "lot_number"):
        found.setdefault(code, []).append(number)
    return found


def _newest(run: Run) -> int:
    return run.entries.order_by("-pk").values_list("pk", flat=True).first() or 0


def _was_sent(run: Run, key: UUID) -> bool:
    """Say whether a page with this key was recorded before."""
    return any(entry.client_key in (uuid5(key, f"{entry.kind}:{entry.subject}"), uuid5(key, "safe"))
               for entry in run.entries.all())


@transaction.atomic
def enter_paper(paper: Paper, *, by: Person, key: UUID) -> None:
    """Record all that is typed on the page, once, all or nothing, at the times that are written.

    Raises PaperRefused with what is wrong beside its field, and where something was recorded while the page was read:
    a blank is not done only if nobody recorded it. BenchError for a run on which nothing is recorded.
    """
    # locked as everything at the bench locks it: what is recorded from here on comes after
    locked = Run.objects.select_for_update(of=("self",)).get(pk=paper.run.pk)
    if _was_sent(locked, key):
        return
    paper.check()
    if _newest(locked) != paper.newest:
        raise PaperRefused("Something was recorded at the bench just now, and nothing is saved yet: send it again.")
    typed, run, blank_was_not_done = set(map(id, paper._typed)), paper.run, paper.day_form.cleaned_data["that_is_all"]

    def record(kind: str, content: dict[str, Any], subject: str = "", at: datetime | None = None) -> None:
        note(run=run, by=by, client_key=uuid5(key, f"{kind}:{subject}"), kind=kind, subject=subject, content=content,
             device_at=at)

    def is_typed(form: forms.Form | None) -> bool:
        return form is not None and id(form) in typed

    if paper.conditions is not None and is_typed(paper.conditions):
        record(Kind.CONDITIONS, as_content(paper.conditions.cleaned_data))
    for side in paper.sides:
        for row in side.rows:
            if row.form is None:
                continue
            done = is_typed(row.form)
            if not done and not blank_was_not_done:
                continue
            at = row.form.cleaned_data["at"] if done else None
            try:
                if isinstance(row, MixRow):
                    content = row.form.content() if done else {"made": False, "amounts": {}}
                    record(Kind.MIXED, content, row.state.mix.key, at)
                elif row.spraying is not None:
                    record(Kind.SPRAYED, {"sprayed": done}, row.spraying.meeting.key, at)
            except ClockRefused as refusal:
                row.form.add_error("at", str(refusal))
                raise PaperRefused("Nothing is saved yet: see what is written beside the fields.") from refusal
    for glass in paper.glass:
        if is_typed(glass) or blank_was_not_done:
            record(Kind.GLASS, {"sheets": glass.cleaned_data["sheets"] if is_typed(glass) else 0}, glass.glass.code)
    for label, form in paper.panes:
        if is_typed(form):
            record(Kind.PANE, as_content(form.cleaned_data), label)
        elif blank_was_not_done:
            record(Kind.PANE, {"outcome": NOT_STARTED, "attempts": 1, "because": ""}, label)
    if paper.time is not None and is_typed(paper.time):
        record(Kind.TIME, as_content(paper.time.cleaned_data))
    if is_typed(paper.safe):
        _made_safe(paper, by, key)


def _made_safe(paper: Paper, by: Person, key: UUID) -> None:
    """Stop the clocks of all that stands of the run; where nothing does, record that the rest was made safe."""
    standing = list(clocks_of(paper.run).filter(made_safe=None).values_list("pk", flat=True))
    values = paper.safe.values()
    try:
        if standing:
            make_run_safe(run=paper.run, key=uuid5(key, "safe"), by=by, clocks=standing, **values)
        else:
            note(run=paper.run, by=by, client_key=uuid5(key, "safe"), kind=Kind.MADE_SAFE,
                 content={"by_procedure": True}, device_at=values["done_at"])
    except DaybookError as refusal:
        paper.safe.refuse(refusal)
        raise PaperRefused("Nothing is saved yet: see what is written beside the fields.") from refusal
