"""Trials: start one with its changes, note, time, photograph, take stock, close it, and promote it to a draft."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Exists, Max, OuterRef, QuerySet

from recipes.clocks import make_safe, owed_for, start_clock
from recipes.facts import LEFT_OUT, SPRAYED, YES, RecipeFacts, Shelf
from recipes.finding import remember
from recipes.finishes.authoring import copy_step, start_draft
from recipes.finishes.bench_rules import ClockStart, clock_starts
from recipes.finishes.volumes import PartMix, SampleLoad, mixes_for_load
from recipes.models import (
    MakingSafe,
    NotMixed,
    Part,
    RecipeVersion,
    SilverClock,
    SolutionVersion,
    Step,
    Trial,
    TrialChange,
    TrialNote,
    TrialPhotograph,
    TrialRecord,
    TrialTiming,
    TrialUse,
)
from recipes.photographs import MEDIA_TYPE, Crop, copies_of
from recipes.reading import ANY_DAY, recipe_facts
from recipes.solutions.bench_card import BenchCard, material_amounts
from recipes.solutions.holding import why_taken_by_nobody
from recipes.solutions.putting_in_use import freeze_solutions
from recipes.trials.against_stops import refuse_stops_that_stand, try_against
from recipes.trials.changing import Change, apply, changes_between, solutions_named
from recipes.trials.reading import changes_of, facts_of, solution_ids
from recipes.value_words import VALUES
from studio.exact import RATIO_DECIMALS
from studio.house.clock import now, today
from studio.house.kept_files import keep, read
from studio.house.models import House, HouseRates, Person
from studio.kit.errors import DaybookError
from studio.kit.locks import AGAIN, check_opened, differing, in_words
from studio.kit.roles import May
from studio.kit.rounding import as_decimal, plain
from studio.kit.typed_numbers import read_decimal
from studio.stockroom.ledger import LedgerError, Movement, lock_levels, post, reverse
from studio.stockroom.models import Lot, Posting, StockMovement


class TrialRefused(DaybookError):
    """Something that a trial cannot be or do; nothing was written."""


CONDITIONS = ("air_c", "glass_c", "solution_c", "humidity_share", "water", "conductivity_us_cm")


@transaction.atomic
def start_trial(
    *, key: UUID, by: Person, recipe_version: RecipeVersion, changes: Sequence[Change], width_mm: Decimal,
    height_mm: Decimal, parent: Trial | None = None, at: datetime | None = None, against_because: str = "", **more: Any,
) -> Trial:
    """Start a trial from a version, or further from another trial; once for each key.

    more: question, size_text, glass, conditions. The solutions it uses are frozen with it. against_because: the
    owner's reason, where a stop stands against its steps.
    Raises NoSuchChange, TrialRefused, StopStands.
    """
    known = Trial.objects.filter(form_key=key).first()
    if known is not None:
        return known
    base = recipe_facts([recipe_version.pk], ANY_DAY)[0][recipe_version.key]
    changes = changes_between(base, apply(base, changes))  # what is as it was is no change
    if not base.steps:
        raise TrialRefused("This recipe has no steps yet: add some first.")
    ids = solution_ids(solutions_named(changes))
    unknown = solutions_named(changes) - ids.keys()
    if unknown:
        raise TrialRefused(f"There is no solution {', '.join(sorted(unknown))}.")
    moment = at or now()
    freeze_solutions([
        *SolutionVersion.objects.filter(used_in__step__recipe_version=recipe_version).values_list("pk", flat=True),
        *ids.values(),
    ], moment)
    House.objects.select_for_update().filter(id=1).first()  # numbers are given one after another
    number = (Trial.objects.aggregate(last=Max("number"))["last"] or 0) + 1
    trial = Trial(
        number=number, recipe_version=recipe_version, parent=parent, started_at=moment, made_by=by, form_key=key,
        width_mm=width_mm, height_mm=height_mm, **more,
    )
    trial.full_clean()
    trial.save(force_insert=True)
    _write_changes(trial, changes)
    try_against(trial, by, against_because, moment)
    remember(trial=trial)
    return trial


def _write_changes(trial: Trial, changes: Sequence[Change]) -> None:
    TrialChange.objects.bulk_create([
        TrialChange(trial=trial, step=change.step, part=change.part, what=change.what, value=change.value)
        for change in changes
    ])


def _open(
    trial: Trial, saves: int | None = None, reads: Callable[[Trial], str] = lambda row: "", again: str = AGAIN
) -> Trial:
    """Lock a trial that is still open, and count its saves up.

    reads: from the trial, locked, to what it reads now, in words. Raises TrialRefused or ChangedMeanwhile.
    """
    row = Trial.objects.select_for_update().get(pk=trial.pk)
    if row.closed_at is not None:
        raise TrialRefused(f"{row} is closed: add a note, or start another trial from it.")
    check_opened(row, saves, reads(row), again)
    Trial.objects.filter(pk=row.pk).update(saves=row.saves)
    return row


def _changes_in_words(trial: Trial) -> str:
    changes = (f"in step {change.step} {VALUES.get(change.what, (change.what, ''))[0]} {change.value or 'none'}"
               for change in trial.changes.all())
    return ", ".join(changes) or "nothing changed"


def _conditions_in_words(trial: Trial) -> str:
    known = [name for name in CONDITIONS if getattr(trial, name) not in (None, "")]
    return f"{in_words(trial, known) or 'no conditions'}; {_changes_in_words(trial)}"


@transaction.atomic
def change_trial(
    trial: Trial, saves: int, *, by: Person, changes: Sequence[Change] | None = None, against_because: str = "",
    **values: Any,
) -> Trial:
    """Change an open trial's values; where given, its changes are written again, by somebody, past no stop unsaid."""
    row = _open(trial, saves, lambda row: differing(row, values) + (
        f"; {_changes_in_words(row)}" if changes is not None else ""))
    if changes is not None:
        base = recipe_facts([row.recipe_version_id], ANY_DAY)[0][row.recipe_version.key]
        changes = changes_between(base, apply(base, changes))
        ids = solution_ids(solutions_named(changes))
        freeze_solutions(ids.values(), now())
        row.changes.all().delete()
        _write_changes(row, changes)
        try_against(row, by, against_because, now())
    for name, value in values.items():
        setattr(row, name, value)
    row.full_clean()
    row.save()
    remember(trial=row)
    return row


@transaction.atomic
def add_note(*, key: UUID, trial: Trial, by: Person, text: str, at: datetime | None = None) -> TrialNote:
    """Add a remark, also to a closed trial; once for each key."""
    if not text.strip():
        raise TrialRefused("Write the note first.", "text")
    note, made = TrialNote.objects.get_or_create(
        key=key, defaults={"trial": trial, "by": by, "text": text.strip(), "at": at or now()}
    )
    if made:
        remember(trial=trial)
    return note


@transaction.atomic
def add_timing(*, key: UUID, trial: Trial, by: Person, step: int, seconds: int,
               at: datetime | None = None) -> TrialTiming:
    """Record how long a step took, once for each key."""
    known = TrialTiming.objects.filter(key=key).first()
    if known is not None:
        return known
    _open(trial)
    if not trial.recipe_version.steps.filter(number=step).exists():
        raise TrialRefused(f"There is no step {step} in this trial.")
    return TrialTiming.objects.create(key=key, trial=trial, by=by, step=step, seconds=seconds, at=at or now())


@transaction.atomic
def add_photograph(
    *, key: UUID, trial: Trial, by: Person, side: str, content: bytes, at: datetime | None = None
) -> TrialPhotograph:
    """Save a photograph of a trial: the original for the owner, upright copies without metadata; once for each key.

    Raises NotAPhotograph.
    """
    known = TrialPhotograph.objects.filter(key=key).first()
    if known is not None:
        return known
    copies, crop = copies_of(content)
    kept = {
        name: keep(getattr(copies, name), name=f"trial-{trial.number}-{side}-{name.split('_')[0]}.jpg",
                   media_type=MEDIA_TYPE, owner_only=False)
        for name in ("print_copy", "screen_copy", "aligned_copy")
    }
    original = keep(content, name=f"trial-{trial.number}-{side}-original", media_type="application/octet-stream",
                    owner_only=True)
    return TrialPhotograph.objects.create(
        key=key, trial=trial, by=by, side=side, original=original, at=at or now(), **_crop_values(crop), **kept
    )


def _crop_values(crop: Crop) -> dict[str, Decimal]:
    return {f"crop_{name}": as_decimal(getattr(crop, name), RATIO_DECIMALS) for name in ("left", "top", "side")}


@transaction.atomic
def crop_photograph(photograph: TrialPhotograph, crop: Crop) -> None:
    """Cut the square that comparisons align by again, from the original."""
    copies, _ = copies_of(read(photograph.original), crop)
    square = keep(copies.aligned_copy, name=f"trial-{photograph.trial.number}-{photograph.side}-aligned.jpg",
                  media_type=MEDIA_TYPE, owner_only=False)
    TrialPhotograph.objects.filter(pk=photograph.pk).update(aligned_copy=square, **_crop_values(crop))


@dataclass(frozen=True, kw_only=True)
class Taken:
    """An amount taken from a lot, in its stock unit."""

    lot: Lot
    amount: Decimal


@transaction.atomic
def take_stock(
    *, key: UUID, trial: Trial, by: Person, taken: Sequence[Taken], day: Any, because: str = "",
    at: datetime | None = None,
) -> Posting:
    """Deduct what a trial took from the lots it was taken from: all or nothing, once for each key.

    because: the owner's reason where a lot is held or expired. Raises LedgerError, StopStands.
    """
    known = Posting.objects.filter(key=key).first()
    if known is not None:
        return known
    refuse_stops_that_stand(_open(trial))
    if not taken:
        raise TrialRefused("Give the amount taken from at least one lot.")
    lock_levels([take.lot.pk for take in taken])
    for take in taken:
        lot = Lot.objects.select_related("material", "level").get(pk=take.lot.pk)
        refused = why_taken_by_nobody(lot)
        if refused:
            raise LedgerError(refused, f"lot-{lot.material.code}")
        why_not = "held" if lot.state == Lot.State.HELD else "expired" if lot.has_expired(day) else ""
        if why_not and not (because and by.may(May.OVERRULE)):
            raise LedgerError(f"{lot} is {why_not}: only the owner can allow it, and writes why.",
                              f"lot-{lot.material.code}")
        if lot.level.on_hand < take.amount:
            raise LedgerError(f"{lot} holds {plain(lot.level.on_hand)} {lot.material.stock_unit}, not "
                              f"{plain(take.amount)}: nothing was taken.", f"lot-{lot.material.code}")
    posting = post(
        key=key, kind=Posting.Kind.TRIAL, by=by, why=str(trial), at=at,
        movements=[
            Movement(lot=take.lot, kind=StockMovement.Kind.USE, quantity=-take.amount, unit_cost=take.lot.unit_cost,
                     note=because[:200])
            for take in taken
        ],
    )
    TrialUse.objects.create(trial=trial, posting=posting)
    return posting


@transaction.atomic
def give_back(*, key: UUID, use: TrialUse, by: Person, why: str) -> Posting:
    """Reverse what a trial took by mistake: the opposite movements, naming the first."""
    _open(use.trial)
    return reverse(key=key, by=by, posting=use.posting, why=why)


@transaction.atomic
def start_trial_clock(
    *, key: UUID, trial: Trial, by: Person, subject: str, done_at: datetime | None = None,
) -> SilverClock | None:
    """Start the clock of ammoniacal silver that was mixed, or first sprayed, for an open trial; once for each key.

    None where it runs already: then it is only set back to an earlier time. Raises TrialRefused, ClockRefused.
    """
    known = SilverClock.objects.filter(key=key).first()
    if known is not None:
        return known
    row = _open(trial)
    start = _start_of(row, subject)
    same = row.clocks.filter(subject=subject, what=start.what[:160])
    earlier = same.select_related("made_safe").order_by("-pk").first()
    return start_clock(key=key, by=by, subject=subject, what=start.what, began=start.began, done_at=done_at, trial=row,
                       earlier=earlier)


def _starts(trial: Trial) -> list[ClockStart]:
    facts = facts_of([trial])
    return clock_starts(facts.tried[trial.pk], facts.shelf)


def _start_of(trial: Trial, subject: str) -> ClockStart:
    found = next((start for start in _starts(trial) if start.key == subject), None)
    if found is None:
        raise TrialRefused("This trial has no such ammoniacal silver.")
    return found


@transaction.atomic
def say_not_mixed(*, key: UUID, trial: Trial, by: Person, subject: str) -> NotMixed:
    """Record that ammoniacal silver of an open trial's recipe was not mixed, or not sprayed; once for each key.

    Raises TrialRefused where its clock says that it was.
    """
    known = NotMixed.objects.filter(key=key).first()
    if known is not None:
        return known
    row = _open(trial)
    start = _start_of(row, subject)
    if row.clocks.filter(subject=subject, what=start.what[:160]).exists():
        raise TrialRefused(f"{start.what} was recorded as {start.began}: record that it was made safe.", "made-safe")
    return NotMixed.objects.create(key=key, trial=row, by=by, subject=subject, what=start.what[:160], at=now())


def untold(trial: Trial, starts: Iterable[ClockStart]) -> list[ClockStart]:
    """Return the ammoniacal silver of a trial of which nobody said that it was mixed, or that it was not.

    What was said of one solution was not said of another that its step takes since.
    """
    told = {(row.subject, row.what) for rows in (trial.clocks, trial.not_mixed) for row in rows.all()}
    return [start for start in starts if (start.key, start.what[:160]) not in told]


@transaction.atomic
def make_trial_safe(
    *, key: UUID, trial: Trial, by: Person, clocks: Collection[int], procedure: str, treated: Collection[str],
    done_at: datetime | None = None,
) -> MakingSafe:
    """Stop the named clocks of a trial; once for each key. Raises ClockRefused."""
    row = Trial.objects.select_for_update().get(pk=trial.pk)
    mine = dict(row.clocks.values_list("pk", "subject"))
    if set(clocks) - mine.keys():
        raise TrialRefused("That is no mix of this trial.", "clocks")
    tried = facts_of([row]).tried[row.pk]
    sprayed = {f"s{step.number}" for step in tried.steps if step.how in SPRAYED}
    owed = owed_for(any(mine[pk].partition("p")[0] in sprayed for pk in clocks))
    return make_safe(key=key, by=by, clocks=clocks, procedure=procedure, treated=treated, owed=owed, done_at=done_at)


def waiting_of(trial: Trial) -> list[TrialRecord]:
    """Return what was sent from the bench of a trial, could not be taken, and nobody settled. One query."""
    return list(_waiting().filter(trial=trial))


def waiting_of_trials() -> list[TrialRecord]:
    """Return the same of every trial, the oldest first. One query."""
    return list(_waiting().select_related("trial"))


def _waiting() -> QuerySet[TrialRecord]:
    settled = TrialRecord.objects.filter(settles=OuterRef("key"))
    return TrialRecord.objects.exclude(why="").exclude(kind=TrialRecord.Kind.SETTLED).exclude(
        Exists(settled)).select_related("by").order_by("pk")


@transaction.atomic
def close_trial(trial: Trial, saves: int, *, verdict: str, score: int | None, kept_where: str = "",
                at: datetime | None = None) -> Trial:
    """Close a trial with its verdict: from now on it stays as it was.

    Raises TrialRefused while ammoniacal silver of it still stands, or nobody said whether it was mixed.
    """
    row = _open(trial, saves, _conditions_in_words, "Close it again to close it as it is now.")
    standing = row.clocks.filter(made_safe=None)
    if standing:
        what = "; ".join(clock.what for clock in standing)
        raise TrialRefused(f"Record that what still stands was made safe, then close it: {what}.", "made-safe")
    unsaid = "; ".join(start.what for start in untold(row, _starts(row)))
    if unsaid:
        raise TrialRefused(f"Say when this was mixed or first sprayed, or that it was not, then close it: {unsaid}.",
                           "made-safe")
    if waiting_of(row):
        raise TrialRefused("Something sent from the bench could not be taken: say what became of it, then close it.",
                           "waiting")
    if verdict != Trial.Verdict.LEFT:  # what nobody may try is always given up
        refuse_stops_that_stand(row)
    row.verdict, row.score, row.kept_where, row.closed_at = verdict, score, kept_where, at or now()
    row.full_clean()
    row.save()
    remember(trial=row)
    return row


@transaction.atomic
def promote(trial: Trial, *, why: str) -> RecipeVersion:
    """Turn a trial into the next draft version of its finish: its changes applied, its photographs and reasons with it.

    The draft differs from the version that the trial was made from by exactly the trial's changes.
    """
    base = RecipeVersion.objects.get(pk=trial.recipe_version_id)
    changes = changes_of(trial)
    ids = solution_ids(solutions_named(changes))
    draft = start_draft(base.finish, why=why)
    draft.came_from, draft.came_from_trial, draft.film_nm = base, trial, base.film_nm
    draft.own_yield_share = base.own_yield_share
    number = 0
    for step in base.steps.prefetch_related("parts").order_by("number"):
        mine = [change for change in changes if change.step == step.number]
        if any(change.what == LEFT_OUT for change in mine):
            continue
        number += 1
        _write_changed(copy_step(step, draft, number), mine, ids)
    for change in changes:
        if change.step == 0:
            draft.film_nm = read_decimal(change.value)
    draft.save()
    remember(recipe_version=draft)
    return draft


def _write_changed(step: Step, changes: Sequence[Change], ids: Mapping[str, int]) -> None:
    for change in changes:
        if change.part == 0:
            field: Any = Step._meta.get_field(change.what)
            value: Any = change.value == YES if field.get_internal_type() == "BooleanField" else change.value
            if field.null and value == "":
                value = None
            setattr(step, change.what, field.to_python(value))
            step.typed = {name: text for name, text in step.typed.items() if name != change.what}
            if change.what == "coverage_ml_per_m2":
                step.gun = ""
        else:
            part = Part.objects.get(step=step, number=change.part)
            if change.what == "solution":
                part.solution_version_id = ids[change.value]
            else:
                own: Any = Part._meta.get_field(change.what)
                setattr(part, change.what, own.to_python(change.value))
            part.typed = {name: text for name, text in part.typed.items() if name != change.what}
            part.save()
    step.full_clean(exclude=["recipe_version"], validate_unique=False)
    step.save()


def mixes_of(trial: Trial, recipe: RecipeFacts, shelf: Shelf) -> dict[int, tuple[PartMix, ...]]:
    """Return the mixes for the trial's one pane by step, rounded up as they are measured."""
    rates = HouseRates.known_on(today())
    increment = Fraction(rates.increment_ml) if rates else Fraction(10)
    readability_g = Fraction(rates.balance_readability_g) if rates else Fraction(0)
    pane = SampleLoad(panes=1, width_mm=Fraction(trial.width_mm), height_mm=Fraction(trial.height_mm))
    return {step.number: mixes_for_load(step, pane, shelf, increment, readability_g) for step in recipe.steps}


def amounts_needed(mixes: Mapping[int, Sequence[PartMix]]) -> dict[str, Fraction]:
    """Return the amount of each material, by code, that mixes hold."""
    amounts: dict[str, Fraction] = {}
    for mix in (mix for of_step in mixes.values() for mix in of_step):
        for code, amount in material_amounts(mix.card) if mix.card else ():
            amounts[code] = amounts.get(code, Fraction(0)) + amount
    return amounts


def amounts_still_needed(trial: Trial, mixes: Mapping[int, Sequence[PartMix]]) -> dict[str, Fraction]:
    """Return what of a trial's mixes the bench did not take already, or say was not mixed; by material code. One query.
    """
    rows = list(trial.records.filter(why="", kind__in=(TrialRecord.Kind.MIXED, TrialRecord.Kind.UNDONE)))
    undone = {row.content.get("undoes") for row in rows}
    told = {row.subject for row in rows if row.kind == TrialRecord.Kind.MIXED and str(row.key) not in undone}
    amounts = amounts_needed(mixes)
    for step, of_step in mixes.items():
        for number, mix in enumerate(of_step, start=1):
            for code, amount in _told_of(mix.card, f"s{step}p{number}", told):
                amounts[code] -= amount
    return {code: amount for code, amount in amounts.items() if amount > 0}


def _told_of(card: BenchCard | None, subject: str, told: Collection[str]) -> Iterable[tuple[str, Fraction]]:
    """Yield what the mixes of a card that the bench told of measure, each solution by itself."""
    for row in card.rows if card else ():
        ingredient = row.measured.ingredient
        if row.inside is not None:
            yield from _told_of(row.inside, f"{subject}i{ingredient.number}", told)
        elif ingredient.material is not None and subject in told:
            yield ingredient.material, row.measured.amount
