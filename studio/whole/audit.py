"""Recompute the ledger and the rules from the rows, and say what does not tie. It gathers from all rooms."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import connection
from django.db.models import Count, F, Max, Q, QuerySet, Sum

from jobs.estimating.cutting.looked_over import CutOtherwise, cut_as
from jobs.estimating.estimate import Estimate, estimate_basis
from jobs.models import Job, KeptLeftover, Quote, Run, RunClock, RunEntry
from jobs.models.quotes import frozen_of
from jobs.quotes.frozen_plan import FrozenPlan, PlanUnreadable, faults_within, offcuts_needed, stock_needed
from jobs.work.bench import bench_state
from jobs.work.booking import frozen_plan
from jobs.work.kept import refuse_uncut
from recipes.finishes.in_doubt import against_those_in_use
from recipes.models import SilverClock, SolutionVersion, Trial, VersionDoubt
from recipes.reading import shelf_for
from recipes.solutions.holding import kept_against_the_rules, lots_without_a_clock
from recipes.solutions.rules import findings, is_never_stored
from recipes.trials.reading import facts_of
from studio.exact import MONEY_DECIMALS
from studio.house.clock import now, today
from studio.house.kept_files import FileDamaged, read
from studio.house.models import CleanPass, StoredFile
from studio.kit import database_rules
from studio.kit.asking import FEW, HELD, by_key, fetched, in_heaps, rows_by_key
from studio.kit.errors import DaybookError
from studio.kit.one_moment import one_moment
from studio.kit.rounding import as_decimal
from studio.kit.trouble import InTrouble
from studio.stockroom.hazards.pairs import UNKNOWN
from studio.stockroom.models import Lot, LotLevel, Material, Posting, StockMovement, WasteContainer
from studio.stockroom.waste.containers import contents, not_taken, pairs_of
from studio.stockroom.waste.sources import find_source, source_of
from studio.whole import audit_of_answers, audit_of_money, audit_of_safety
from studio.whole.looked_at import NOTHING, LookedAt, looked_at, program

Check = Callable[[LookedAt], Iterator[str]]


def audit(
    say: Callable[[int, int, str], None] = lambda done, of, what: None, since: LookedAt = NOTHING,
) -> list[str]:
    """Return a sentence for everything that does not tie: nothing, always; `known_doubts` tells what is in doubt.

    say: told how many parts of all are looked at, and which one is begun. Long tables are read a heap at a time. since:
    what was looked at and is never changed is not reckoned again; sums of the ledger always are.
    """
    checks: tuple[Check, ...] = (
        _rules, _levels, _receipts, _movements, _reversals, _solutions, _recipes, _promises, _runs, _run_postings,
        _trials, _mixed_ahead, _made_here, _waste, _quotes, _files, _states, _kept, _materials,
        *audit_of_answers.CHECKS,
        *audit_of_money.CHECKS,
        *audit_of_safety.CHECKS,
    )
    found: list[str] = []
    with one_moment():  # people go on working, and what they do meanwhile is looked at the next time
        for done, check in enumerate(checks):
            say(done, len(checks), check.__name__.strip("_").replace("_", " "))
            found += check(since)
    return found


def audit_and_note(say: Callable[[int, int, str], None], *, everything: bool) -> tuple[list[str], LookedAt]:
    """Audit what is new since the last pass that found nothing, or everything; note a pass that finds nothing.

    Return what does not tie, and what was not reckoned again.
    """
    since, begun = NOTHING if everything else looked_at(), now()
    found = audit(say, since)
    if not found:
        CleanPass.objects.create(at=begun, program=program(), everything=since is NOTHING)
    return found, since


def _rules(since: LookedAt) -> Iterator[str]:
    for name in database_rules.missing(connection):
        yield f"The database does not keep the rule {name}."


def _materials(since: LookedAt) -> Iterator[str]:
    """Formula, number, silver and density that do not fit, and a silver salt with ammonia in one bottle."""
    for material in Material.objects.all():
        try:
            material.clean()
        except ValidationError as wrong:
            yield f"{material}: {' '.join(wrong.messages)}"
        if material.classes != material.classes_to_store:
            yield f"{material} is kept with other classes than its identity and its owner tell: save it again."


def _levels(since: LookedAt) -> Iterator[str]:
    summed = dict(StockMovement.objects.order_by().values_list("lot").annotate(total=Sum("quantity")))
    levels = dict(LotLevel.objects.values_list("lot_id", "on_hand"))
    for lot in rows_by_key(Lot.objects.select_related("material")):
        level, total = levels.get(lot.pk), summed.get(lot.pk, Decimal(0))
        if level is None:
            yield f"{lot} has no level."
        elif level != total:
            yield f"{lot} says {level} on hand, its movements sum to {total}."
        elif level < 0:
            yield f"{lot} is below zero: {level}."


def _receipts(since: LookedAt) -> Iterator[str]:
    """Every lot came in by movements that add up to what it was received as, at its unit cost with carriage."""
    came_in = Q(movements__kind__in=["receipt", "make-up in"], movements__reverses=None)
    lots: QuerySet[Any] = Lot.objects.select_related("material").annotate(
        received=Sum("movements__quantity", filter=came_in))
    costs = {}
    for lot in rows_by_key(lots):
        costs[lot.pk] = lot.unit_cost
        if lot.received != lot.quantity_received:
            yield f"{lot} was received as {lot.quantity_received}, its movements brought in {lot.received}."
    for pk, cost in by_key(StockMovement.objects.all(), "lot_id", "unit_cost"):
        if cost != costs[pk]:
            moved = Lot.objects.select_related("material").get(pk=pk)
            yield f"A movement of {moved} is valued at {cost}, not {costs[pk]}."


def _movements(since: LookedAt) -> Iterator[str]:
    may_move_nothing = [Posting.Kind.RUN, Posting.Kind.COUNT]  # a run that used nothing, a count that found all right
    empty = Posting.objects.annotate(rows=Count("movements")).filter(rows=0).exclude(kind__in=may_move_nothing)
    for posting in empty:
        yield f"Posting {posting.key} moves nothing."


def _reversals(since: LookedAt) -> Iterator[str]:
    wrong = StockMovement.objects.filter(reverses__isnull=False).exclude(lot=F("reverses__lot"))
    for movement in wrong:
        yield f"Movement {movement.pk} reverses one of another lot."


def _solutions(since: LookedAt) -> Iterator[str]:
    versions = list(SolutionVersion.objects.select_related("solution", "doubt"))
    shelf = shelf_for([version.pk for version in versions], today())
    for version in versions:
        facts, marked = shelf.solutions[version.key], hasattr(version, "doubt")
        for finding in findings(facts, shelf):
            known = finding.pair == UNKNOWN.name or (marked and finding.by_truth)  # told by `known_doubts`
            if finding.stops and not known:
                yield f"{version}: {finding.sentence}"
        if version.solution.material_id and is_never_stored(version.key, shelf) and not marked:
            yield f"{version} holds a silver salt and ammonia and has a place on the shelf."
    for lot, why in kept_against_the_rules():
        yield f"{lot} is not held: {why}"


def _recipes(since: LookedAt) -> Iterator[str]:
    """What is marked in doubt is in doubt, and what is in doubt is marked: else it was put in use against a stop."""
    marked = set(VersionDoubt.objects.filter(stops=True, recipe_version__isnull=False).values_list(
        "recipe_version_id", flat=True))
    for version, found in against_those_in_use():
        if not found.is_sound and not found.only_unclassed and version.pk not in marked:
            yield f"{version} is in use and not marked in doubt: {found.first}"
        elif found.is_sound and version.pk in marked:
            yield f"{version} is marked in doubt, and nothing stands against it."


def _promises(since: LookedAt) -> Iterator[str]:
    """A booked job promises what its quote needs; a finished one promises nothing more."""
    jobs = Job.objects.filter(reservation__isnull=False).select_related("quote", "reservation")
    further = set()
    for run in Run.objects.exclude(reservation=None).select_related("ticket__job", "reservation"):
        further.add(run.ticket.job_id)
        assert run.reservation is not None
        over = not run.ticket.job.promises_stock or run.finished_at is not None
        if over != (run.reservation.released_at is not None):
            stands, still = ("over", "still") if over else ("open", "no longer")
            yield f"{run.ticket} is {stands}, but its stock is {still} promised."
    for job in rows_by_key(jobs.defer(*frozen_of("quote"))):
        over = not job.promises_stock or job.pk in further
        assert job.reservation is not None
        if over != (job.reservation.released_at is not None):
            yield f"{job} is {job.state}, but its stock is {'still' if over else 'no longer'} promised."
    of_new = jobs.exclude(reservation__released_at__lt=since.ended_before)
    paths = ("reservation__amounts__material", "reservation__offcuts")
    for job in (row for part in in_heaps(rows_by_key(of_new, FEW), FEW) for row in fetched(part, *paths)):
        over = not job.promises_stock or job.pk in further
        assert job.reservation is not None
        if job.quote is not None:
            promised = {amount.material.code: amount.quantity for amount in job.reservation.amounts.all()}
            plan = _plan_of(job.quote)
            if plan is None:
                continue  # said of the quote
            if promised != plan.stock:
                yield f"{job} does not promise what its quote needs."
            kept = sorted(offcut.number for offcut in job.reservation.offcuts.all())
            if not over and kept != list(plan.offcuts):
                yield f"{job} does not promise the kept offcuts that its quote is cut from."


def _runs(since: LookedAt) -> Iterator[str]:
    for run in Run.objects.filter(finished_at__isnull=False, made_safe_at=None, stopped=False):
        yield f"Run {run.pk} finished without making safe."
    running = SilverClock.objects.filter(made_safe=None).select_related("trial", "of_run__run__ticket__job")
    for clock in running.filter(of_run__run__finished_at__isnull=False):
        yield f"{clock.of_run.run.ticket} is finished, but {clock} was never made safe."
    cancelled = running.filter(of_run__run__finished_at=None, of_run__run__ticket__job__state=Job.State.CANCELLED)
    for clock in cancelled:
        yield f"{clock.of_run.run.ticket.job} is cancelled, but {clock} was never made safe."
    for clock in running.filter(trial__closed_at__isnull=False):
        yield f"{clock.trial} is closed, but {clock} was never made safe."
    for clock in SilverClock.objects.filter(trial=None, of_run=None, lot=None):
        yield f"{clock} stands, but belongs to no run, no trial and no lot."
    for lot in lots_without_a_clock():
        yield f"{lot} is ammoniacal silver, but its clock never started: save a material in it again."
    yield from _clocks_never_started(since)


def _clocks_never_started(since: LookedAt) -> Iterator[str]:
    """Ammoniacal silver of a finished run has a clock; a run's one record of before covers all that it mixed."""
    covered = RunEntry.objects.filter(kind=RunEntry.Kind.MADE_SAFE, content__mixes__isnull=True).values("run")
    clocked = set(RunClock.objects.values_list("run", "clock__subject"))
    finished = Run.objects.filter(finished_at__gte=since.ended_before).exclude(pk__in=covered)
    for run in rows_by_key(finished.select_related("ticket__job"), FEW):
        state = bench_state(run)
        silver = [(mix.key, mix.mix.solution) for mix in state.mixes if mix.made and mix.is_ammoniacal]
        silver += [(row.meeting.key, row.meeting.what) for row in state.sprayings if row.sprayed]
        for key, what in silver:
            if (run.pk, key) not in clocked:
                yield f"{run.ticket} is finished, but the clock of {what} never started."


def _run_postings(since: LookedAt) -> Iterator[str]:
    corrected = Posting.objects.filter(movements__reversed_by__isnull=False).values("pk")
    mine = Posting.objects.filter(kind=Posting.Kind.RUN).exclude(pk__in=corrected)
    twice = mine.annotate(runs=Count("run")).exclude(runs=1)
    for posting in twice:
        yield f"Posting {posting.key} belongs to no run."


def _trials(since: LookedAt) -> Iterator[str]:
    """What a trial took belongs to it, and its changes still apply to the version it was made from."""
    for posting in Posting.objects.filter(kind=Posting.Kind.TRIAL, trial_use=None):
        yield f"Posting {posting.key} belongs to no trial."
    trials = Trial.objects.exclude(closed_at__lt=since.ended_before).select_related("recipe_version__finish")
    for part in in_heaps(rows_by_key(trials), HELD):
        try:
            facts_of(fetched(part, "changes"))
        except DaybookError as refusal:
            yield f"A trial's changes do not fit its recipe: {refusal}"


def _mixed_ahead(since: LookedAt) -> Iterator[str]:
    """A lot mixed ahead cost what went into it, and none holds ammoniacal silver."""
    came_in = StockMovement.objects.filter(kind=StockMovement.Kind.MAKE_UP_IN, reverses=None)
    for movement in came_in.select_related("lot__material", "lot__made"):
        if getattr(movement.lot, "made", None) is None:
            yield f"{movement.lot} was mixed ahead, but of no solution."
    outs: dict[int, Decimal] = {}
    for taken in StockMovement.objects.filter(kind=StockMovement.Kind.MAKE_UP_OUT, reverses=None):
        outs[taken.posting_id] = outs.get(taken.posting_id, Decimal(0)) - taken.quantity * taken.unit_cost
    for movement in came_in.select_related("lot__material"):
        cost = outs.get(movement.posting_id, Decimal(0))
        if abs(cost - movement.lot.cost_with_carriage) > Decimal("0.0001"):
            yield f"{movement.lot} cost {movement.lot.cost_with_carriage}, what went into it {cost}."


def _made_here(since: LookedAt) -> Iterator[str]:
    """What is made here came by mixing, and is not kept past an older mix that went into it."""
    received = Q(made_here=False) | Q(delivery__isnull=False) | Q(movements__kind=StockMovement.Kind.RECEIPT)
    lots = Lot.objects.filter(received, material__kind=Material.Kind.SOLUTION).select_related("material")
    for lot in lots.distinct():
        yield f"{lot} is made here, but came in by delivery."
    older: dict[int, list[Lot]] = {}
    went = StockMovement.objects.filter(
        kind=StockMovement.Kind.MAKE_UP_OUT, reverses=None, lot__discard_at__isnull=False)
    for movement in went.select_related("lot__material"):
        older.setdefault(movement.posting_id, []).append(movement.lot)
    came = StockMovement.objects.filter(
        kind=StockMovement.Kind.MAKE_UP_IN, reverses=None, posting__in=older, lot__discard_at__isnull=False,
        lot__made__solution_version__longer_keeping_reason="")
    for movement in came.select_related("lot__material"):
        for inside in older[movement.posting_id]:
            if movement.lot.discard_at > inside.discard_at:  # type: ignore[operator]
                yield f"{movement.lot} is kept past {inside}, which went into it."


def _waste(since: LookedAt) -> Iterator[str]:
    """What a container holds, may hold and takes; and no more silver from a source than it held."""
    named = set()
    for container in fetched(WasteContainer.objects.all(), "entries__posting"):
        entries = list(container.entries.all())
        held = contents(entries)
        for pair, stops in pairs_of(entries):
            if stops:
                yield f"Container {container} holds {pair.name}: {pair.reason}"
        if container.holds_most_ml is not None and held.volume_ml > container.holds_most_ml:
            yield f"Container {container} holds {held.volume_ml} mL of at most {container.holds_most_ml}."
        refused = not_taken(container, held.agents)
        if refused:
            yield f"Container {container} does not take {', '.join(refused)}, and holds it."
        named |= {entry.source or source_of(entry.posting) for entry in entries}
    for name in sorted(named - {""}):
        source = find_source(name)
        if source is not None and source.most_g is not None and source.booked_g > source.most_g:
            yield (f"Of {source.words} {source.booked_g} g of silver are in containers, and it can have left "
                   f"{source.most_g} g.")


def _files(since: LookedAt) -> Iterator[str]:
    """Every kept file is there, and as it was kept: its row never changes, but a disk does."""
    for stored in StoredFile.objects.order_by("pk"):
        try:
            read(stored)
        except FileDamaged as damage:
            yield str(damage)
        except InTrouble as silent:  # the store of all of them
            yield f"{silent.trouble.title}: kept files were not looked at."
            return


def _plan_of(quote: Quote) -> FrozenPlan | None:
    """Return a quote's frozen plan, or None where it cannot be read."""
    try:
        return frozen_plan(quote)
    except PlanUnreadable:
        return None


def _quotes(since: LookedAt) -> Iterator[str]:
    """A quote's frozen figures tie among themselves and, worked out by today's arithmetic, with a fresh estimate.

    How its glass is cut is looked over, not looked for again: a plan that another search found is as good.
    """
    for quote in rows_by_key(Quote.objects.filter(made_at__gte=since.ended_before), FEW):
        plan = _plan_of(quote)
        if plan is None:
            yield f"{quote} holds a plan that cannot be read."
            continue
        yield from (f"{quote} {fault}." for fault in faults_within(plan))
        kept, frozen = (quote.net, quote.tax, quote.total, quote.deposit), _money(plan.estimate)
        if kept != frozen:
            yield f"{quote} was frozen at {quote.total}, its plan says {frozen[2]}."
        shown = tuple(Decimal(quote.figures["price"][name]) for name in ("net", "tax", "total", "deposit"))
        if kept != shown:
            yield f"{quote} was frozen at {quote.total}, its figures say {shown[2]}."
        if plan.todays_arithmetic:
            yield from _worked_out_again(quote, plan)


def _worked_out_again(quote: Quote, plan: FrozenPlan) -> Iterator[str]:
    try:
        again = estimate_basis(plan.estimate.basis, cut_as(plan.estimate.glass.plans))
    except CutOtherwise as refusal:
        yield f"{quote} was frozen with a cutting plan that breaks the rules of cutting: {refusal}."
        return
    if again.glass != plan.estimate.glass:
        yield f"{quote} was frozen with other sheets, or other costs of glass, than its cutting plan gives."
    if _money(again) != _money(plan.estimate):
        yield f"{quote} was frozen at {quote.total}, its basis gives {_money(again)[2]}."
    if plan.stock != stock_needed(again) or list(plan.offcuts) != offcuts_needed(again):
        yield f"{quote} was frozen with other needs than its basis gives."


def _money(estimate: Estimate) -> tuple[Decimal, ...]:
    price = estimate.price
    return tuple(as_decimal(amount, MONEY_DECIMALS) for amount in (price.net, price.tax, price.total, price.deposit))


def _states(since: LookedAt) -> Iterator[str]:
    """A quoted job has a quote that is sent or accepted, and no cancelled one has a run that used anything after."""
    out = Quote.objects.filter(state__in=[Quote.State.SENT, Quote.State.ACCEPTED])
    for job in Job.objects.filter(state=Job.State.QUOTED).exclude(order__quotes__in=out):
        yield f"{job} is quoted, but no quote of it is sent or accepted."
    for job in Job.objects.waiting().filter(order__quotes__in=out).exclude(state=Job.State.QUOTED).distinct():
        yield f"{job} is {job.state}, but a quote of it is sent or accepted."


def _kept(since: LookedAt) -> Iterator[str]:
    """No more is kept of a mix than was mixed, and no offcut of a sheet that was not cut."""
    kept = KeptLeftover.objects.order_by().values("run", "mix").annotate(kept=Sum("volume_ml"), most=Max("mixed_ml"))
    for sum_of_mix in kept.filter(kept__gt=F("most")):
        yield (f"Of mix {sum_of_mix['mix']} of run {sum_of_mix['run']} {sum_of_mix['kept']} mL were kept, and "
               f"{sum_of_mix['most']} mL were there.")
    for run in Run.objects.filter(finished_at__isnull=False, kept_offcuts__isnull=False).distinct():
        try:
            refuse_uncut(run, bench_state(run))
        except DaybookError as refusal:
            yield str(refusal)
