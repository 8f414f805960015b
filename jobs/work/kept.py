"""What is kept of a run: leftovers of mixes that keep, offcuts of glass that was cut.

Nothing is kept that was not there: of a mix no more than was mixed, less what went into another mix of the ticket and
what was kept before; of glass only pieces of sheets that are cut. A cancelled job leaves nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from uuid import NAMESPACE_URL, UUID, uuid5

from django.db import transaction
from django.db.models import Sum

from jobs.estimating.cutting.cut_list import TicketOffcut, TicketSheet
from jobs.models import Job, KeptLeftover, KeptOffcut, Run, RunEntry
from jobs.work import states
from jobs.work.bench import BenchError, BenchState, MixState, bench_state
from jobs.work.entries import Entries, done_at
from jobs.work.ticket_plan import TicketGlass, TicketIngredient, TicketMix
from recipes.reading import shelf_for, solution_version_of
from recipes.solutions.mixing_ahead import KeyTaken, keep_leftover, made_with
from recipes.solutions.rules import discard_at
from studio.exact import LENGTH_DECIMALS, STOCK_DECIMALS
from studio.house.clock import today
from studio.house.models import Person
from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal, plain
from studio.stockroom.models import Lot, Material, Offcut, StockMovement
from studio.stockroom.offcuts.kept import keep_offcut


class NotThere(DaybookError):
    """Something that a run did not leave, or left no more of."""


# Mixes ---------------------------------------------------------------------------------------------------------------

def mixed_ml(mix: MixState) -> Fraction:
    """Return how much of a batch was mixed, in mL: as planned, or in proportion to what was poured into it."""
    if not mix.made:
        return Fraction(0)
    rows = [(ingredient, noted) for ingredient, noted in mix.rows if ingredient.unit == "mL"] or mix.rows
    planned = sum((Fraction(ingredient.amount) for ingredient, _ in rows), Fraction(0))
    noted = sum((Fraction(amount) for _, amount in rows), Fraction(0))
    return mix.mix.volume_ml * noted / planned if planned else mix.mix.volume_ml


def went_into_others_ml(mix: MixState, state: BenchState) -> Fraction:
    """Return how much of a batch went into other mixes of the ticket, in mL: batches of one solution give in
    proportion to what was mixed of each.
    """
    mine, taken = mixed_ml(mix), Fraction(0)
    if not mine:
        return taken
    for other in state.mixes:
        for ingredient, amount in other.rows if other.made else ():
            if ingredient.unit == "mL" and _is_of(ingredient, mix.mix):
                of_it = sum((mixed_ml(one) for one in state.mixes if _is_of(ingredient, one.mix)), Fraction(0))
                taken += Fraction(amount) * mine / of_it
    return taken


def _is_of(ingredient: TicketIngredient, mix: TicketMix) -> bool:
    """Say whether an ingredient is the solution that a mix of the same ticket is of."""
    if ingredient.solution_key:
        return ingredient.solution_key == mix.solution_key
    # A ticket printed before its ingredients named their solution by key holds the name alone, as it was that day for
    # mix and ingredient alike. Two versions of one solution cannot be told apart there: they share what was taken.
    return not ingredient.code and ingredient.name == mix.solution


def left_over_ml(mix: MixState, state: BenchState) -> Fraction:
    """Return the most that can be left of a batch, in mL, whatever was kept of it before."""
    return max(mixed_ml(mix) - went_into_others_ml(mix, state), Fraction(0))


def kept_before_ml(run: Run) -> dict[str, Fraction]:
    """Return what was kept of a run's mixes, in mL, by mix key. One query."""
    rows = run.kept_leftovers.order_by().values_list("mix").annotate(volume=Sum("volume_ml"))
    return {mix: Fraction(volume) for mix, volume in rows}


def leftovers_of(run: Run, state: BenchState) -> list[tuple[MixState, Fraction]]:
    """Return the keeping mixes of a finished run of which something can still be kept, and how much, in mL."""
    if run.finished_at is None or not run.ticket.job.can_keep:
        return []
    before = kept_before_ml(run)
    free = [(noted, left_over_ml(noted, state) - before.get(noted.key, Fraction(0)))
            for noted in state.mixes if noted.made and noted.mix.keeps]
    return [(mix, volume) for mix, volume in free if volume > 0]


def mixed_at(run: Run) -> dict[str, datetime]:
    """Return when each mix of a run was first recorded as mixed, by mix key: when it was done, not when it was sent.

    Recording it again corrects what was in it; it does not start its clock anew. One query.
    """
    moments: dict[str, datetime] = {}
    entries = Entries(run.entries.filter(kind__in=[RunEntry.Kind.MIXED, RunEntry.Kind.UNDONE]))
    for subject in entries.subjects(RunEntry.Kind.MIXED):
        for entry in entries.all_of(RunEntry.Kind.MIXED, subject):
            if entry.content.get("made"):
                moments.setdefault(subject, min(entry.at, done_at(entry)))
    return moments


def _inside(mix: MixState, state: BenchState, moments: dict[str, datetime]) -> Iterator[datetime | None]:
    """Give until when the mixes that went into a mix of the ticket are used: mixed on the run, or taken from a lot."""
    for ingredient, _ in mix.rows:
        for other in state.mixes:
            if other is mix or not _is_of(ingredient, other.mix):
                continue
            if other.lot is not None:
                yield Lot.objects.select_related("material").get(pk=other.lot).ends_at
            elif other.made and other.key in moments:
                yield _ends_at(other, state, moments)


def _ends_at(mix: MixState, state: BenchState, moments: dict[str, datetime]) -> datetime | None:
    version = solution_version_of(mix.mix.solution_key)
    if version is None:
        return None
    shelf = shelf_for([version.pk], today())
    return discard_at(shelf.solutions[version.key], shelf, moments[mix.key], _inside(mix, state, moments))


def _locked(run: Run) -> tuple[Run, Job]:
    """Return the run and its job, both locked."""
    run = Run.objects.select_for_update(of=("self",)).select_related("ticket__job").get(pk=run.pk)
    return run, Job.objects.select_for_update(of=("self",)).get(pk=run.ticket.job_id)


def _refuse_cancelled(job: Job) -> None:
    """Raise NotThere where a job leaves nothing."""
    if job.is_cancelled:
        states.check(job.state, states.KEEP, NotThere)


@transaction.atomic
def keep_leftover_of(*, run: Run, mix_key: str, volume_ml: Fraction, key: UUID, by: Person) -> Lot:
    """Put what is left of a finished run's mix on the shelf as a lot; the same key counts once.

    The same form sent again is answered as it was the first time, whatever became of the job meanwhile.
    Raises NotThere where no such mix keeps, or for more than is left of it, and KeyTaken.
    """
    run, job = _locked(run)
    known = made_with(key)
    if known is not None:
        if not KeptLeftover.objects.filter(run=run, lot=known, mix=mix_key).exists():
            raise KeyTaken
        return known
    _refuse_cancelled(job)
    if run.finished_at is None:
        raise NotThere("A leftover is kept once its run is finished.")
    state = bench_state(run)
    mix = next((noted for noted in state.mixes if noted.key == mix_key and noted.mix.keeps), None)
    if mix is None:
        raise NotThere("This run has no such mix that keeps.", "mix")
    if not mix.made:
        raise NotThere(f"{mix.mix.solution} was not mixed on this run.", "mix")
    most, before = left_over_ml(mix, state), kept_before_ml(run).get(mix_key, Fraction(0))
    if volume_ml > most - before:
        raise NotThere(_too_much(most, before), "volume")
    version = solution_version_of(mix.mix.solution_key)
    if version is None:
        raise NotThere(f"{mix.mix.solution} is no longer in the library.", "mix")
    moments = mixed_at(run)
    lot = keep_leftover(key=key, by=by, version=version, volume_ml=volume_ml, mixed_at=moments[mix_key],
                        inside=_inside(mix, state, moments), why=f"Left over from {run.ticket.job}")
    KeptLeftover.objects.create(run=run, lot=lot, mix=mix_key, volume_ml=lot.quantity_received,
                                mixed_ml=as_decimal(most, STOCK_DECIMALS))
    return lot


def _too_much(most: Fraction, before: Fraction) -> str:
    if not before:
        return f"More than was mixed: {plain(as_decimal(most, STOCK_DECIMALS))} mL can be left."
    kept, rest = (plain(as_decimal(volume, STOCK_DECIMALS)) for volume in (before, most - before))
    return f"More than was mixed: {kept} mL of it were kept before; at most {rest} mL can be left."


# Glass ---------------------------------------------------------------------------------------------------------------

def sheets_used(run: Run, state: BenchState) -> dict[str, Decimal]:
    """Return how many whole sheets a run used, by glass: as recorded; once it is over, as it deducts now."""
    if run.posting is None:
        return {code: Decimal(sheets) for code, sheets in state.sheets.items()}
    rows = run.posting.movements.filter(kind=StockMovement.Kind.USE, lot__material__code__in=state.sheets)
    taken = dict(rows.order_by().values_list("lot__material__code").annotate(Sum("quantity")))
    return {code: -taken.get(code, Decimal(0)) for code in state.sheets}


def is_cut(
    glass: TicketGlass, sheet: TicketSheet, state: BenchState, finished: bool,
    used: Mapping[str, Decimal] | None = None,
) -> bool:
    """Say whether a planned sheet is cut: its sheets are recorded, and so many of it that this one is among them.

    used: whole sheets by glass, where a run that is over may have been corrected; else as they are recorded.

    A kept offcut has no count of its own: it is cut once its sheets are recorded, or the run is finished.
    """
    if not finished and glass.code not in state.cut:
        return False
    if sheet.kept_offcut is not None:
        return True
    whole = [planned.number for planned in glass.plan if planned.kept_offcut is None]
    return whole.index(sheet.number) < (state.sheets if used is None else used)[glass.code]


def offcuts_of(run: Run, state: BenchState) -> list[tuple[str, TicketGlass, TicketSheet, int, TicketOffcut]]:
    """Return the pieces worth keeping of the sheets that are cut: name in a form, glass, sheet, place in it, piece."""
    if not run.ticket.job.can_keep:
        return []
    used = sheets_used(run, state)
    return [
        (f"{glass.code}/{sheet.number}/{at}", glass, sheet, at, piece)
        for glass in state.plan.glass for sheet in glass.plan
        if is_cut(glass, sheet, state, finished=run.finished_at is not None, used=used)
        for at, piece in enumerate(sheet.offcuts, start=1)
    ]


def _offcut_key(run: Run, name: str) -> UUID:
    return uuid5(NAMESPACE_URL, f"silvering-daybook:offcut:{run.pk}:{name}")


@transaction.atomic
def keep_offcuts_of(*, run: Run, names: Collection[str], place: str, by: Person) -> list[Offcut]:
    """Keep the named pieces of a run's cutting plan; each counts once, however often it is sent.

    Raises NotThere for a piece of glass that is not cut yet, or of a cancelled job.
    """
    run, job = _locked(run)
    _refuse_cancelled(job)
    there = {found[0]: found for found in offcuts_of(run, bench_state(run))}
    uncut = sorted(set(names) - there.keys())
    if uncut:
        raise NotThere("An offcut is kept once its glass is cut: record the sheets first.", "offcut")
    rows = Material.objects.filter(code__in=[name.split("/")[0] for name in names])
    materials = {material.code: material for material in rows}
    kept = []
    for name in sorted(names):
        _, glass, sheet, at, piece = there[name]
        offcut = keep_offcut(
            key=_offcut_key(run, name), by=by, material=materials[glass.code],
            width_mm=as_decimal(piece.width_mm, LENGTH_DECIMALS),
            height_mm=as_decimal(piece.height_mm, LENGTH_DECIMALS), place=place,
            came_from=f"job {run.ticket.job.number}",
        )
        KeptOffcut.objects.get_or_create(
            offcut=offcut, defaults={"run": run, "glass": glass.code, "sheet": sheet.number, "piece": at}
        )
        kept.append(offcut)
    return kept


def refuse_uncut(run: Run, state: BenchState) -> None:
    """Raise BenchError where an offcut was kept of a sheet that the run, as recorded now, never cut."""
    used = sheets_used(run, state)
    cut = {(glass.code, sheet.number) for glass in state.plan.glass for sheet in glass.plan
           if is_cut(glass, sheet, state, finished=True, used=used)}
    for kept in run.kept_offcuts.select_related("offcut"):
        if kept.offcut.gone_at is None and (kept.glass, kept.sheet) not in cut:
            raise BenchError(f"{kept.offcut} was kept of sheet {kept.sheet}, but fewer sheets are recorded: "
                             "correct the sheets, or discard the offcut.", "glass")
