"""Records of a trial as its bench sends them: from a form at once, or later from a device that had no network.

Each counts once, however often it is sent, and with the time at which it was done. What is sent live is checked as a
form is. What was shown as recorded without network is never thrown away: what cannot be taken waits, with its reason,
until somebody says what became of it; a trial is not closed before. Silver that was mixed has its clock all the same.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import NAMESPACE_URL, UUID, uuid4, uuid5

from django import forms
from django.core.exceptions import ValidationError
from django.db import transaction

from recipes.bench_page import NotTaken, Sent, checked, first_error, only_asked
from recipes.making_safe_form import DoneAtForm, MakingSafeForm
from recipes.models import MadeLot, Trial, TrialRecord, TrialUse
from recipes.solutions.rules import agents_within
from recipes.trials.bench import BEGAN, DONE, TrialBench, began_at, bench_of, said_of
from recipes.trials.cards import STEP, Screen
from recipes.trials.conducting import (
    Taken,
    TrialRefused,
    add_note,
    add_timing,
    change_trial,
    give_back,
    make_trial_safe,
    say_not_mixed,
    start_trial_clock,
    take_stock,
)
from recipes.trials.forms import ConditionsForm, TakeForm
from recipes.trouble import TROUBLES
from studio.exact import STOCK_DECIMALS
from studio.house.clock import house_zone, now, today
from studio.house.models import House, Person
from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal
from studio.kit.typed_numbers import NoNumber, is_whole, read_exact, read_whole, whole_number
from studio.stockroom.hazards.classes import is_ammoniacal_silver
from studio.stockroom.models import Lot
from studio.stockroom.shelf import as_on_shelf

Kind = TrialRecord.Kind


@transaction.atomic
def record(*, trial: Trial, by: Person, sent: Sent) -> TrialRecord:
    """Take a record, once for each key.

    Raises NotTaken where somebody waits for the answer; otherwise it waits in the book with the reason.
    """
    known = TrialRecord.objects.filter(key=sent.key).first()
    if known is not None:
        return known
    try:
        with transaction.atomic():
            return _taken(trial, by, sent)
    except (DaybookError, ValidationError) as refusal:
        why = " ".join(refusal.messages) if isinstance(refusal, ValidationError) else str(refusal)
        if sent.live:
            raise refusal if isinstance(refusal, NotTaken) else NotTaken(why) from refusal
    _clock_all_the_same(trial, by, sent)
    return _append(trial, by, sent, {"fields": {name: list(values) for name, values in sent.fields.items()}}, why=why)


def _append(trial: Trial, by: Person, sent: Sent, content: Mapping[str, Any], *, why: str = "",
            done_at: datetime | None = None, subject: str | None = None) -> TrialRecord:
    kind = sent.kind if sent.kind in Kind.values and sent.kind != Kind.SETTLED else Kind.NOTE
    return TrialRecord.objects.create(
        trial=trial, key=sent.key, kind=kind, subject=(sent.subject if subject is None else subject)[:40],
        content=dict(content), why=why[:400], done_at=done_at or sent.moment or now(), done_by=sent.done_by[:150],
        at=now(), by=by,
    )


def _taken(trial: Trial, by: Person, sent: Sent) -> TrialRecord:
    reader = _READERS.get(sent.kind)
    if reader is None:
        raise NotTaken("The bench keeps no such record.")
    row = Trial.objects.select_for_update(of=("self",)).select_related("recipe_version__finish").get(pk=trial.pk)
    if row.closed_at is not None and sent.kind != Kind.NOTE:
        raise NotTaken(f"{row} was closed when it came.")
    return reader(bench_of(row), by, sent)


def _beside(sent: Sent, what: str) -> UUID:
    """Return the key of one of several things that one press records."""
    return uuid5(NAMESPACE_URL, f"silvering-daybook:trial:{sent.key}:{what}")


# Mixes --------------------------------------------------------------------------------------------------------------

def _mix(bench: TrialBench, subject: str) -> Screen:
    screen = bench.mix(subject)
    if screen is None:
        raise NotTaken("That mix is not in this trial.")
    return screen


def _mixed(bench: TrialBench, by: Person, sent: Sent) -> TrialRecord:
    act, screen, trial = sent.value("act", "as-written"), _mix(bench, sent.subject), bench.trial
    before = bench.records.newest(Kind.MIXED, screen.subject)
    if act == "again":
        return _mixed_again(bench, by, sent, screen)
    if before is not None:
        words = said_of(bench)[f"{Kind.MIXED} {screen.subject}"]["words"]
        raise NotTaken(f"It is recorded already, and was taken from stock once: {words}. Mixed twice: record it under "
                       "“Mixed once more”.")
    if act == "not-made":
        if screen.part in bench.starts:
            say_not_mixed(key=sent.key, trial=trial, by=by, subject=screen.part)
        return _append(trial, by, sent, {"act": act})
    done = DoneAtForm(sent.data, prefix=screen.subject)
    if not done.is_valid():
        raise NotTaken(done.refusal, done)
    moment = done.cleaned_data["done_at"] or sent.moment or now()
    if act == "from-lot":
        taken = [_made_lot(screen, sent)]
    elif act == "amounts":
        taken = _typed(bench, screen, sent)
    else:
        act, taken = "as-written", _printed(bench, screen, sent)
    _take(bench, by, sent, taken, moment)
    if act != "from-lot":
        _start(bench, by, sent, screen, moment)
    return _append(trial, by, sent, {"act": act}, done_at=moment)


def _mixed_again(bench: TrialBench, by: Person, sent: Sent, screen: Screen) -> TrialRecord:
    because = sent.value("because").strip()[:200]
    if not because:
        raise NotTaken("Say why it was mixed again: the first is counted as used too.")
    further = [one for one in bench.records.subjects(Kind.MIXED) if one.partition("-")[0] == screen.subject]
    moment = sent.moment or now()
    _take(bench, by, sent, _again(bench, screen), moment)
    _start(bench, by, sent, screen, moment)
    return _append(bench.trial, by, sent, {"act": "again", "because": because}, done_at=moment,
                   subject=f"{screen.subject}-{len(further) + 1}")


def _again(bench: TrialBench, screen: Screen) -> list[Taken]:
    """Return what a further making takes: as much again of the first lots that may be taken."""
    found = []
    for taking in bench.takings.get(screen.subject, {}).values():
        left = taking.amount
        for lot in taking.lots:
            part = min(left, lot.level.on_hand) if as_on_shelf(lot).usable_on(today()) else Decimal(0)
            left -= part
            found += [Taken(lot=lot, amount=part)] if part > 0 else []
        if left > 0:
            raise NotTaken(_too_little(taking.material.name))
    return found


def _too_little(name: str) -> str:
    return f"Too little of {name} is on the shelf. Say what was taken under “Used another amount, or another lot”."


def _take(bench: TrialBench, by: Person, sent: Sent, taken: Sequence[Taken], moment: datetime) -> None:
    if taken:
        take_stock(key=sent.key, trial=bench.trial, by=by, taken=taken, day=moment.astimezone(house_zone()).date())


def _start(bench: TrialBench, by: Person, sent: Sent, screen: Screen, moment: datetime) -> None:
    if screen.part in bench.starts and screen.mix is not None and screen.mix.ammoniacal:
        start_trial_clock(key=_beside(sent, "clock"), trial=bench.trial, by=by, subject=screen.part, done_at=moment)


def _clock_all_the_same(trial: Trial, by: Person, sent: Sent) -> None:
    """Start the clock of silver whose record could not be taken: it stands in the studio, whatever the book says."""
    if sent.kind != Kind.MIXED or sent.value("act", "as-written") not in ("as-written", "amounts", "again"):
        return
    try:
        with transaction.atomic():
            row = Trial.objects.select_related("recipe_version__finish").get(pk=trial.pk)
            bench = bench_of(row)
            _start(bench, by, sent, _mix(bench, sent.subject), sent.moment or now())
    except DaybookError:
        return  # the record waits, and says of what


def _printed(bench: TrialBench, screen: Screen, sent: Sent) -> list[Taken]:
    """Return what the screen said to take, as it was shown: the lots that the hand took, whatever stands there now."""
    takings, found = bench.takings.get(screen.subject, {}), []
    shown: dict[int, list[tuple[int, Decimal]]] = {}
    for one in sent.fields.get("printed", ()):
        place, _, rest = one.partition(" ")
        pk, _, amount = rest.partition(" ")
        try:
            shown.setdefault(read_whole(place), []).append(
                (read_whole(pk), as_decimal(read_exact(amount), STOCK_DECIMALS)))
        except NoNumber:
            continue
    for number, taking in takings.items():
        lots, left = {lot.pk: lot for lot in taking.lots}, taking.amount
        for lot_id, part in shown.get(number, ()):
            lot = lots.get(lot_id) or Lot.objects.select_related("material", "level").filter(
                pk=lot_id, material=taking.material).first()
            if lot is None or not Decimal(0) < part <= left:
                raise NotTaken(f"That is no lot of {taking.material.name} as this mix takes it: look at it again.")
            left -= part
            found.append(Taken(lot=lot, amount=part))
        if left > 0:
            raise NotTaken(_too_little(taking.material.name))
    return found


def take_forms(bench: TrialBench, screen: Screen, data: Any = None) -> list[TakeForm]:
    """Return a row for each material of a mix: how much, from which lot."""
    found = []
    for number, taking in bench.takings.get(screen.subject, {}).items():
        form = TakeForm(
            data, prefix=f"{screen.subject}-{number}", material=taking.material, lots=list(taking.lots), day=today(),
            needed=taking.amount, by_number=True,
            initial={"amount": f"{taking.amount.normalize():f} {taking.material.stock_unit}" if taking.lots else "",
                     "lot": taking.lots[0].lot_number if taking.lots else None},
        )
        form.fields["lot"].label = f"{taking.material.name}: from lot"
        form.fields["amount"].label = taking.material.name
        found.append(form)
    return found


class MixForm(forms.Form):
    """The rows of one mix, as one form to show again."""

    def __init__(self, rows: Sequence[TakeForm], subject: str, done: DoneAtForm) -> None:
        super().__init__()
        self.rows, self.subject, self.done = rows, subject, done

    @property
    def is_refused(self) -> bool:
        return any(row.errors for row in self.rows)


def _typed(bench: TrialBench, screen: Screen, sent: Sent) -> list[Taken]:
    rows = take_forms(bench, screen, sent.data)
    if any(row.errors for row in rows) and not sent.live:
        data = sent.data
        for row in rows:  # who could not be asked meant it so
            for question in only_asked(row).values():
                data.setlist(question.name, [question.value])
        rows = take_forms(bench, screen, data)
    if any(row.errors for row in rows):
        wrong = next(row for row in rows if row.errors)
        raise NotTaken(first_error(wrong), MixForm(rows, screen.subject, DoneAtForm(sent.data, prefix=screen.subject)))
    return [Taken(lot=lot, amount=amount) for row in rows if row.cleaned_data["taken"]
            for lot, amount in [row.cleaned_data["taken"]]]


def made_lots(bench: TrialBench) -> dict[str, list[Lot]]:
    """Return, by screen subject, the usable lots mixed ahead that hold enough for a mix, as written. One query."""
    mixes = [screen for screen in bench.screens if screen.mix is not None and screen.mix.solution.keeps
             and screen.mix.strength == 1]
    if not mixes:
        return {}
    usable: dict[str, list[Lot]] = {}
    for made in MadeLot.objects.filter(lot__level__on_hand__gt=0).select_related(
            "lot__material", "lot__level", "solution_version__solution"):
        if as_on_shelf(made.lot).usable_on(today()):
            usable.setdefault(made.solution_version.key, []).append(made.lot)
    return {screen.subject: [lot for lot in usable.get(screen.mix.solution.key, ())
                             if lot.level.on_hand >= as_decimal(screen.mix.volume_ml, STOCK_DECIMALS)]
            for screen in mixes if screen.mix is not None}


def _made_lot(screen: Screen, sent: Sent) -> Taken:
    assert screen.mix is not None
    lot = Lot.objects.select_related("material", "level").filter(
        pk=whole_number(sent.value("lot")), made__isnull=False).first()
    if lot is None or lot.made.solution_version.key != screen.mix.solution.key or screen.mix.strength != 1:
        raise NotTaken("Choose a lot mixed ahead that holds enough of it.")
    return Taken(lot=lot, amount=as_decimal(screen.mix.volume_ml, STOCK_DECIMALS))


def _added(bench: TrialBench, by: Person, sent: Sent) -> TrialRecord:
    """Record which ingredients are in; silver and ammonia both in it start the clock."""
    screen = _mix(bench, sent.subject)
    assert screen.mix is not None
    rows = {row.measured.ingredient.number: row.measured.ingredient for row in screen.mix.rows}
    numbers = {whole_number(number) for number in sent.fields.get("number", ()) if is_whole(number)}
    ticked = sorted(numbers & rows.keys())
    agents: set[str] = set()
    for number in ticked:
        row = rows[number]
        agents |= agents_within(row.solution, bench.shelf) if row.solution else bench.shelf.materials[
            row.material or ""].reacts_as
    if is_ammoniacal_silver(frozenset(agents)):
        _start(bench, by, sent, screen, sent.moment or now())
    return _append(bench.trial, by, sent, {"numbers": ticked})


# Steps, conditions, notes, making safe -------------------------------------------------------------------------------

def _step(bench: TrialBench, by: Person, sent: Sent) -> TrialRecord:
    """Record that a step began or is done; both together say how long it really took."""
    did, moment = sent.value("did", DONE), sent.moment or now()
    screen = next((one for one in bench.screens if one.kind == STEP and one.subject == sent.subject), None)
    if did not in (BEGAN, DONE) or screen is None or screen.step is None:
        raise NotTaken("That step is not in this trial.")
    before = bench.records.all_of(Kind.STEP, sent.subject)
    began, was_done = began_at(before), any(row.content["did"] == DONE for row in before)
    if did == DONE and began is not None and not was_done:
        seconds = max(round((moment - began).total_seconds()), 1)
        add_timing(key=_beside(sent, "timing"), trial=bench.trial, by=by, step=screen.step.number, seconds=seconds,
                   at=moment)
    if sent.subject in bench.starts and not bench.trial.clocks.filter(subject=sent.subject).exists():
        start_trial_clock(key=_beside(sent, "clock"), trial=bench.trial, by=by, subject=sent.subject,
                          done_at=began or moment)
    return _append(bench.trial, by, sent, {"did": did})


def _conditions(bench: TrialBench, by: Person, sent: Sent) -> TrialRecord:
    """Write the conditions; what was measured before something newer is kept, and changes nothing."""
    def made(data: Any) -> ConditionsForm:
        return ConditionsForm(data, trial=bench.trial, steps=bench.recipe.steps, preference=House.unit_preference())

    form, _ = checked(sent, made)
    newest = bench.records.newest(Kind.CONDITIONS)
    if newest is None or newest.done_at <= (sent.moment or now()):
        change_trial(bench.trial, bench.trial.saves, by=by, **form.values())
    return _append(bench.trial, by, sent, {})


def _note(bench: TrialBench, by: Person, sent: Sent) -> TrialRecord:
    what = next((trouble.name for trouble in TROUBLES if trouble.name == sent.value("what")), "")
    text = ": ".join(filter(None, [what, sent.value("text").strip()[:900]]))
    if sent.done_by and text:
        text = f"{text} ({sent.done_by})"
    add_note(key=sent.key, trial=bench.trial, by=by, text=text, at=sent.moment)
    return _append(bench.trial, by, sent, {"text": text})


def _made_safe(bench: TrialBench, by: Person, sent: Sent) -> TrialRecord:
    form = MakingSafeForm(sent.data, rows=list(bench.trial.clocks.all()), standing=(),
                          house=House.objects.first() or House())
    if not form.is_valid():
        raise NotTaken(first_error(form), form)
    values = form.values()
    done_at = values["done_at"] or sent.moment
    try:
        make_trial_safe(key=sent.key, trial=bench.trial, by=by, **(values | {"done_at": done_at}))
    except DaybookError as refusal:
        form.refuse(refusal)
        raise NotTaken(str(refusal), form) from refusal
    return _append(bench.trial, by, sent, {}, done_at=done_at)


def _undone(bench: TrialBench, by: Person, sent: Sent) -> TrialRecord:
    """Take a record back, and what it took from stock: only the newest of its subject. A clock goes on."""
    of, undoes = sent.value("of"), sent.value("undoes")
    if of not in (Kind.MIXED, Kind.STEP, Kind.CONDITIONS):
        raise NotTaken("That stays as it was recorded: write a note that says what is wrong about it.")
    newest = bench.records.newest(of, sent.subject)
    if newest is None or str(newest.key) != undoes:
        raise NotTaken("Something newer is recorded of it: look at it again.")
    use = TrialUse.objects.select_related("trial", "posting").filter(posting__key=newest.key).first()
    if use is not None:
        give_back(key=sent.key, use=use, by=by, why="Taken back at the bench")
    return _append(bench.trial, by, sent, {"of": of, "undoes": undoes})


_READERS: Mapping[str, Callable[[TrialBench, Person, Sent], TrialRecord]] = {
    Kind.MIXED: _mixed, Kind.ADDED: _added, Kind.STEP: _step, Kind.CONDITIONS: _conditions, Kind.NOTE: _note,
    Kind.MADE_SAFE: _made_safe, Kind.UNDONE: _undone,
}


@transaction.atomic
def settle(*, waiting: TrialRecord, by: Person, because: str) -> TrialRecord:
    """Say what became of a record that could not be taken; once. Raises TrialRefused without a reason."""
    known = TrialRecord.objects.filter(settles=waiting.key).first()
    if known is not None:
        return known
    if not because.strip():
        raise TrialRefused("Say what became of it: recorded otherwise, or not needed, and why.", "because")
    moment = now()
    return TrialRecord.objects.create(
        trial_id=waiting.trial_id, key=uuid4(), kind=Kind.SETTLED, subject=waiting.subject, settles=waiting.key,
        why=because.strip()[:400], done_at=moment, at=moment, by=by,
    )
