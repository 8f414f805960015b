"""Records as the bench sends them: from a form at once, or later from a tablet that had no network. None is refused
for being late.

The key of a mix is its ticket, load, mix and making, never the device: two devices that did not know of each other
have recorded one making, which is counted once and asked about. What is sent *live* is checked as a form is, and a
refusal stands beside its field. What was shown as recorded without network is taken as it was done; what is unusual
about it, and what cannot be taken, waits for somebody to say what became of it before the run ends.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import NAMESPACE_URL, uuid5

from django import forms
from django.db import transaction

from jobs.models import Run, RunEntry, WaitingRecord
from jobs.work.bench import BEGAN, DONE, BenchError, BenchState, MixState, bench_state, note
from jobs.work.clock import clocks_of, start_of_mix
from jobs.work.entries import Entries, in_the_mix, making_number, making_subject, mix_key, step_and_pane
from jobs.work.forms import ConditionsForm, GlassForm, MixForm, NoteForm, PaneForm, TimeForm, TroubleForm, as_content
from jobs.work.known_now import known_now
from jobs.work.lots_to_take import as_made_again, as_printed, as_written, made_lots_for, offered, shelves_for
from jobs.work.making_safe import make_run_safe
from jobs.work.meeting_in_a_mix import meets_with
from jobs.work.ticketing import plan_of
from recipes.bench_page import NotTaken, Sent, checked, first_error
from recipes.making_safe_form import DoneAtForm, MakingSafeForm
from studio.house.clock import now, today
from studio.house.models import House, Person
from studio.kit.errors import DaybookError
from studio.kit.typed_numbers import whole_number

Kind = RunEntry.Kind
_log = logging.getLogger(__name__)
#: what is not recorded of a load yet, all of it as the ticket has it: one press, many records
REST = "rest"


@dataclass(frozen=True, kw_only=True)
class Read:
    """What an entry holds. done_at: as it was typed, where it was. subject: where it is another than sent."""

    content: dict[str, Any]
    done_at: datetime | None = None
    subject: str = ""


@transaction.atomic
def record(*, run: Run, by: Person, sent: Sent) -> RunEntry | WaitingRecord | None:
    """Take a record, once for each key; None for one that needs no entry of its own.

    Raises NotTaken where somebody waits for the answer; otherwise it waits in the book with the reason.
    """
    known = RunEntry.objects.filter(client_key=sent.key).first() or WaitingRecord.objects.filter(
        client_key=sent.key).first()
    if known is not None:
        return known
    try:
        with transaction.atomic():
            return _taken(run, by, sent)
    except DaybookError as refusal:
        if sent.live:
            raise refusal if isinstance(refusal, NotTaken) else NotTaken(str(refusal)) from refusal
        return _kept_waiting(run, by, sent, str(refusal))
    except (ArithmeticError, LookupError, TypeError, ValueError):
        # a fault of the book, not of who pressed: kept back, it would keep back all that the tablet holds after it
        _log.exception("A record of the bench could not be read: %s", sent.key)
        return _kept_waiting(run, by, sent, "The book could not read it.")


def _kept_waiting(run: Run, by: Person, sent: Sent, why: str) -> WaitingRecord:
    """Keep a record that cannot be taken, once. One of no kind of its own, as the rest of a load is, is a note.

    Silver that was mixed has its clock all the same: it stands, whatever is wrong with what was written of it.
    """
    if sent.kind == Kind.MIXED and sent.value("act", "as-written") in ("as-written", "amounts", "again"):
        run = Run.objects.select_for_update(of=("self",)).select_related("ticket__job__quote").get(pk=run.pk)
        if run.finished_at is None:  # no clock starts after the end: Today tells what came then
            start_of_mix(run=run, plan=known_now(plan_of(run.ticket)), subject=sent.subject, by=by,
                         client_key=sent.key, done_at=sent.moment)
    fields = {name: list(values) for name, values in sent.fields.items()}
    is_kind = sent.kind in Kind.values
    waiting, _ = WaitingRecord.objects.get_or_create(client_key=sent.key, defaults={
        "run": run, "kind": sent.kind if is_kind else Kind.NOTE, "subject": sent.subject[:40], "why": why[:400],
        "fields": fields if is_kind else {**fields, "sent as": [sent.kind[:40]]}, "done_at": sent.moment or now(),
        "done_by": sent.done_by[:150], "at": now(), "by": by,
    })
    return waiting


def _taken(run: Run, by: Person, sent: Sent) -> RunEntry | None:
    if sent.kind == Kind.MADE_SAFE:
        return _made_safe(run, by, sent)
    if sent.kind == REST:
        _rest(run, by, sent)
        return None
    if sent.kind not in _READERS:
        raise NotTaken("The bench keeps no such record.")
    run = Run.objects.select_for_update(of=("self",)).select_related("ticket__job__quote").get(pk=run.pk)
    if run.finished_at is not None or run.ticket.job.is_cancelled:
        raise NotTaken("The run was over when it came.")
    state = bench_state(run)
    read = _READERS[sent.kind](state, sent)
    content = read.content | ({"done_by": sent.done_by} if sent.done_by else {})
    done_at = read.done_at or sent.moment
    entry = note(run=run, by=by, client_key=sent.key, kind=sent.kind, subject=read.subject or sent.subject,
                 content=content, device_at=done_at, after=None if "settles" in content else sent.after)
    _start_clocks(run, by, state, sent, entry)
    return entry


def _rest(run: Run, by: Person, sent: Sent) -> None:
    """Record as the ticket has it what nobody recorded yet of a load, r1l2, or of the whole job, “”.

    Its mixes, and its steps as done. What is ammoniacal silver is recorded by itself, with the time it was mixed:
    that time is what its clock counts from.
    """
    run = Run.objects.select_for_update(of=("self",)).select_related("ticket__job__quote").get(pk=run.pk)
    state = bench_state(run)
    mixes, steps = [mix for mix in state.mixes if mix.made is None], []
    if sent.subject:
        recipe, load = state.plan.loads_by_anchor.get(sent.subject, (None, None))
        steps = [f"{sent.subject}s{step.number}" for step in recipe.steps] if recipe else []
        mixes = [mix for mix in mixes
                 if recipe and load and (mix.mix.recipe, mix.mix.load) == (recipe.key, load.number)]
    else:
        mixes = [mix for mix in mixes if mix.mix.load is None]
    silver = [mix.mix.solution for mix in mixes if mix.is_ammoniacal]
    silver += [one.meeting.what for one in state.sprayings if one.meeting.key in steps and one.sprayed is None]
    if silver:
        raise NotTaken(f"Record these by themselves, with the time they were done: {'; '.join(dict.fromkeys(silver))}. "
                       "Their clock counts from it.")
    shelves = shelves_for(mixes)
    for mix in mixes:
        content = as_written(mix, shelves, today()) if sent.live else as_printed(mix)
        _noted_beside(run, by, sent, Kind.MIXED, mix.key, content)
    for step in steps:
        recorded = state.steps.get(step)
        if recorded is None or recorded.done is None:
            _noted_beside(run, by, sent, Kind.STEP, step, {"did": DONE})


def _noted_beside(run: Run, by: Person, sent: Sent, kind: str, subject: str, content: dict[str, Any]) -> None:
    """Note one of several things that one press records."""
    if sent.done_by:
        content = {**content, "done_by": sent.done_by}
    note(run=run, by=by, client_key=uuid5(NAMESPACE_URL, f"silvering-daybook:{sent.key}:{kind}:{subject}"), kind=kind,
         subject=subject, content=content, device_at=sent.moment)


def _start_clocks(run: Run, by: Person, state: BenchState, sent: Sent, entry: RunEntry) -> None:
    """Start the clock of silver that meets ammonia in this: as ingredients go in, or as stocks are sprayed."""
    if entry.kind == Kind.ADDED:
        mix = _mix(state, entry.subject)
        ticked = Entries(run.entries.filter(kind__in=[Kind.ADDED, Kind.UNDONE], subject=entry.subject))
        if meets_with(mix.mix, state.plan, in_the_mix(ticked.all_of(Kind.ADDED, entry.subject))):
            start_of_mix(run=run, plan=state.plan, subject=entry.subject, by=by, client_key=entry.client_key,
                         done_at=entry.device_at)
    if entry.kind == Kind.STEP:
        step, _ = step_and_pane(entry.subject)
        spraying = next((one for one in state.sprayings if one.meeting.key == step), None)
        if spraying is not None and not spraying.sprayed:
            _noted_beside(run, by, sent, Kind.SPRAYED, step, {"sprayed": True})


# What each kind of record holds --------------------------------------------------------------------------------------

def _mix(state: BenchState, subject: str) -> MixState:
    """Return a making of a batch; one that nobody recorded yet is the batch with that number."""
    found = next((mix for mix in state.mixes if mix.key == subject), None)
    batch = found or next((mix for mix in state.mixes if mix.key == mix_key(subject)), None)
    if batch is None:
        raise NotTaken("That mix is not on this ticket.")
    return found or MixState(mix=batch.mix, making=making_number(subject))


def _mixed(state: BenchState, sent: Sent) -> Read:
    act = sent.value("act", "as-written")
    if act == "again":
        return _mixed_again(state, sent)
    mix = _mix(state, sent.subject)
    if act in ("once", "twice"):
        return _settled(state, mix, sent)
    if act not in ("as-written", "amounts", "not-made", "from-lot"):
        raise NotTaken("The bench keeps no such record.")
    if mix.making > 1 and mix.made is None:
        raise NotTaken("Say why it was mixed again: record it under “Mixed once more”.")
    if act == "not-made":
        return Read(content={"made": False, "amounts": {}}, subject=mix.key)
    if act == "from-lot":
        lot = next((lot for lot in made_lots_for(mix) if str(lot.pk) == sent.value("lot")), None)
        if lot is None:
            raise NotTaken("Choose a lot mixed ahead that holds enough of it.")
        return Read(content={"made": False, "amounts": {}, "lot": lot.pk, "lot_number": lot.lot_number},
                    subject=mix.key)
    done = DoneAtForm(sent.data, prefix=mix.key)
    if not done.is_valid():
        raise NotTaken(done.refusal, done)
    done_at = done.cleaned_data["done_at"]
    shelves = shelves_for([mix])
    if act == "amounts":
        content = _checked(sent, lambda data: MixForm(data, state=mix, lots=offered(shelves, today())), _mix_content)
    else:
        content = as_written(mix, shelves, today()) if sent.live else as_printed(mix)
    if mix.because:
        content["because"] = mix.because
    return Read(content=content, done_at=done_at, subject=mix.key)


def _mix_content(form: forms.Form) -> dict[str, Any]:
    assert isinstance(form, MixForm)
    return form.content()


def _mixed_again(state: BenchState, sent: Sent) -> Read:
    """Read a further making of a batch, as the ticket has it: its reason, and which making it is.

    Which one is what the device knew: two that did not know of each other have recorded the same.
    """
    because = sent.value("because").strip()[:200]
    if not because:
        raise NotTaken("Say why it was mixed again: the first is counted as used too.")
    first = _mix(state, mix_key(sent.subject))
    if first.made is None:
        raise NotTaken("It is not recorded as mixed yet: record that first.")
    number = max(making_number(sent.subject), 2)
    mix = _mix(state, making_subject(first.mix.key, number))
    content = as_made_again(mix, first, shelves_for([mix]), today()) if sent.live else as_printed(mix)
    return Read(content={**content, "because": because}, subject=mix.key)


def _settled(state: BenchState, mix: MixState, sent: Sent) -> Read:
    """Read the answer to a making that two recorded: once, as one of them has it; or twice, the other one again."""
    if mix.twice is None:
        raise NotTaken("That is answered already, or one of the two was taken back: load the page again.")
    records = {str(one.client_key): one for one in state.entries.all_of(Kind.MIXED, mix.key)}
    settles = sorted((mix.record, str(mix.twice.client_key)))
    if sent.value("act") == "once":
        kept = records.get(sent.value("of")) or records[mix.record]
        content = {name: value for name, value in kept.content.items() if name not in ("unseen", "settles")}
        return Read(content={**content, "settles": settles}, done_at=kept.device_at, subject=mix.key)
    numbers = [making_number(one.key) for one in state.mixes if one.mix.key == mix.mix.key]
    other = mix.twice.content
    again = {name: value for name, value in other.items() if name not in ("unseen", "settles")}
    return Read(
        content={**again, "because": "Two people mixed it, without knowing of each other.", "settles": settles},
        subject=making_subject(mix.mix.key, max(numbers) + 1), done_at=mix.twice.device_at,
    )


def _added(state: BenchState, sent: Sent) -> Read:
    mix = _mix(state, sent.subject)
    known = {str(ingredient.number) for ingredient in mix.mix.ingredients}
    ticked, put_in, taken_out = (
        sorted({whole_number(number) for number in sent.fields.get(name, ()) if number in known})
        for name in ("number", "put_in", "taken_out")
    )
    content: dict[str, Any] = {"numbers": ticked}
    if put_in or taken_out:
        content |= {"put_in": put_in, "taken_out": taken_out}
    return Read(content=content, subject=mix.key)


def _step(state: BenchState, sent: Sent) -> Read:
    did = sent.value("did", DONE)
    step, pane = step_and_pane(sent.subject)
    known = {
        f"{anchor}s{one.number}": load.panes for anchor, (recipe, load) in state.plan.loads_by_anchor.items()
        for one in recipe.steps
    }
    if did not in (BEGAN, DONE) or step not in known or (pane and pane not in known[step]):
        raise NotTaken("That step is not on this ticket.")
    return Read(content={"did": did})


def _pane(state: BenchState, sent: Sent) -> Read:
    if sent.subject not in {pane.label for pane in state.plan.panes}:
        raise NotTaken("That pane is not on this ticket.")
    return Read(content=_checked(sent, PaneForm))


def _glass(state: BenchState, sent: Sent) -> Read:
    glass = next((one for one in state.plan.glass if one.code == sent.subject), None)
    if glass is None:
        raise NotTaken("That glass is not on this ticket.")
    return Read(content=_checked(sent, lambda data: GlassForm(data, glass=glass)))


def _conditions(state: BenchState, sent: Sent) -> Read:
    steps = [step for recipe in state.plan.recipes for step in recipe.steps]
    return Read(content=_checked(sent, lambda data: ConditionsForm(data, steps=steps)))


def _time(state: BenchState, sent: Sent) -> Read:
    return Read(content=_checked(sent, TimeForm))


def _note(state: BenchState, sent: Sent) -> Read:
    return Read(content=_checked(sent, TroubleForm if "what" in sent.fields else NoteForm))


def _undone(state: BenchState, sent: Sent) -> Read:
    """Read what takes a record back: only the newest of its subject, and never a making safe."""
    of, undoes = sent.value("of"), sent.value("undoes")
    if of in (Kind.MADE_SAFE, Kind.SPRAYED, Kind.NOTE, Kind.UNDONE):
        raise NotTaken("That stays as it was recorded: write a note that says what is wrong about it.")
    newest = state.entries.newest(of, sent.subject)
    if newest is None or str(newest.client_key) != undoes:
        raise NotTaken("Something newer is recorded of it: look at it again.")
    return Read(content={"of": of, "undoes": undoes})


_READERS: Mapping[str, Callable[[BenchState, Sent], Read]] = {
    Kind.MIXED: _mixed, Kind.ADDED: _added, Kind.STEP: _step, Kind.PANE: _pane, Kind.GLASS: _glass,
    Kind.CONDITIONS: _conditions, Kind.TIME: _time, Kind.NOTE: _note, Kind.UNDONE: _undone,
}


def _made_safe(run: Run, by: Person, sent: Sent) -> RunEntry | None:
    """Record what was made safe: the clocks that were named; where none is ammoniacal silver, the run's one tick."""
    rows = list(clocks_of(run))
    if not rows or (not sent.fields.get("clocks") and all(row.made_safe_id for row in rows)):
        if not sent.value("by_procedure"):
            raise NotTaken("Tick it once it is done: a run cannot finish before.")
        content = {"by_procedure": True} | ({"done_by": sent.done_by} if sent.done_by else {})
        return note(run=run, by=by, client_key=sent.key, kind=Kind.MADE_SAFE, content=content, device_at=sent.moment)
    form = MakingSafeForm(sent.data, rows=rows, standing=(), house=House.objects.get())
    if not form.is_valid():
        raise NotTaken(first_error(form), form)
    values = form.values()
    try:
        make_run_safe(run=run, key=sent.key, by=by, **(values | {"done_at": values["done_at"] or sent.moment}))
    except DaybookError as refusal:
        form.refuse(refusal)
        raise NotTaken(str(refusal), form) from refusal
    return RunEntry.objects.filter(client_key=sent.key).first()


# Forms ---------------------------------------------------------------------------------------------------------------

def _plain_content(form: forms.Form) -> dict[str, Any]:
    return as_content(form.cleaned_data)


def _checked(
    sent: Sent, make: Callable[[Any], forms.Form], content_of: Callable[[forms.Form], dict[str, Any]] = _plain_content,
) -> dict[str, Any]:
    """Return what a form holds. What it only asks about is taken from who could not be asked, and stays asked.

    Raises NotTaken with the form.
    """
    form, asked = checked(sent, make)
    return content_of(form) | ({"asked": asked} if asked else {})


@transaction.atomic
def settle(*, waiting: WaitingRecord, by: Person, because: str) -> WaitingRecord:
    """Say what became of a record that could not be taken. Raises BenchError without a reason."""
    if not because.strip():
        raise BenchError("Say what became of it: recorded otherwise, or not needed, and why.", "because")
    row = WaitingRecord.objects.select_for_update(of=("self",)).get(pk=waiting.pk)
    if row.settled_at is not None:
        return row
    row.settled_at, row.settled_by, row.settled_because = now(), by, because.strip()[:400]
    row.save(update_fields=["settled_at", "settled_by", "settled_because"])
    return row


def waiting_records() -> list[WaitingRecord]:
    """Return everything that waits to be settled, of every run. One query."""
    return list(WaitingRecord.objects.filter(settled_at=None).select_related("run__ticket__job", "by"))
