"""A month closed, or any days between two: what was asked for and paid, what is held, used, on the shelf and under way.

Everything is reckoned from rows that are only ever added (requests, acts, movements), so that the same two days give
the same figures whenever they are asked for, but for what is recorded late with a day of before. Days are the studio's
own. The number of queries is fixed; costs are summed exact.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from django.db.models import Case, IntegerField, Q, QuerySet, Sum, Value, When
from django.utils.timezone import localtime

from jobs.models import Job, JobAct, MoneyRequest, Run, WorkTicket
from jobs.work import states
from studio.kit.asking import among, chunks
from studio.stockroom.models import Lot, LotLevel, Posting, StockMovement

NOTHING = Decimal(0)
Kind, Moved = JobAct.Kind, StockMovement.Kind
_SIGNS: dict[str, int] = {Kind.PAID: 1, Kind.GIVEN_BACK: -1}
_PAID_IN_WORDS: dict[str, str] = {Kind.PAID: "in", Kind.GIVEN_BACK: "given back"}
Row = tuple[Any, ...]


@dataclass(frozen=True, kw_only=True)
class Days:
    """Two days and all between them, in the studio's time zone. currency: of the rates."""

    first: date
    last: date
    zone: ZoneInfo
    currency: str

    @property
    def begins(self) -> datetime:
        return datetime.combine(self.first, time(), self.zone)

    @property
    def ends(self) -> datetime:
        """Return the moment after the last day."""
        return datetime.combine(self.last + timedelta(days=1), time(), self.zone)

    def day_of(self, moment: datetime) -> date:
        return localtime(moment, self.zone).date()


def requested(days: Days) -> Iterator[Row]:
    """Yield a row of REQUESTED for each request, by number. One query."""
    rows = MoneyRequest.objects.filter(asked_on__range=(days.first, days.last)).defer("content")
    for row in rows.select_related("job__order__customer", "quote", "credits").order_by("number").iterator():
        yield (row.label, row.kind, row.asked_on, row.due_on, row.job.order.customer.name, row.job.number,
               row.quote.label, row.credits.label if row.credits else "", row.net, row.tax, row.total, row.currency)


def tax(days: Days) -> Iterator[Row]:
    """Yield a row of TAX for each request and rate, by number. One query."""
    rows = MoneyRequest.objects.filter(asked_on__range=(days.first, days.last))
    for row in rows.select_related("job__order__customer").order_by("number").iterator():
        for rate in row.content["taxes"]:
            net, of_it = Decimal(rate["net"]), Decimal(rate["tax"])
            yield (rate["name"], Decimal(rate["share"]), row.label, row.asked_on, row.job.order.customer.name, net,
                   of_it, net + of_it, row.currency)


def payments(days: Days) -> Iterator[Row]:
    """Yield a row of PAYMENTS for each act of money, and for each that was undone, by day. Two queries."""
    acts = JobAct.objects.select_related("job__order__customer", "undoes")
    on_its_day = Q(on__range=(days.first, days.last)) | Q(on=None, at__gte=days.begins, at__lt=days.ends)
    found: list[tuple[date, int, Row]] = []
    for act in acts.filter(on_its_day, kind__in=_SIGNS):
        found.append(_payment(act, act, days, act.on or days.day_of(_moment(act))))
    for act in acts.filter(kind=Kind.UNDONE, undoes__kind__in=_SIGNS, at__gte=days.begins, at__lt=days.ends):
        assert act.undoes is not None
        found.append(_payment(act, act.undoes, days, days.day_of(_moment(act))))
    return (row for _, _, row in sorted(found, key=lambda one: one[:2]))


def _moment(act: JobAct) -> datetime:
    assert act.at is not None  # rows were asked for by it
    return act.at


def _payment(act: JobAct, money: JobAct, days: Days, day: date) -> tuple[date, int, Row]:
    undone = act is not money
    amount = (money.amount or NOTHING) * _SIGNS[money.kind] * (-1 if undone else 1)
    what = _PAID_IN_WORDS[money.kind] + (" (undone)" if undone else "")
    return day, act.pk, (day, act.job.number, act.job.order.customer.name, what, money.how, amount, days.currency,
                         act.note, localtime(act.at, days.zone) if act.at else "")


def deposits(days: Days) -> Iterator[Row]:
    """Yield a row of DEPOSITS for each job that money is held of at the end of the last day. Five queries."""
    not_delivered = _maybe_not(days.ends, states.DELIVERED)
    held = _in_by(days, not_delivered)
    states_then = _states_at(days.ends, not_delivered)
    jobs = not_delivered.filter(pk__in=JobAct.objects.filter(kind__in=_SIGNS).order_by().values("job"))
    rows = jobs.order_by("number").values_list("pk", "number", "order__title", "order__customer__name")
    for pk, number, title, customer in rows.iterator():
        if held.get(pk, NOTHING) and states_then.get(pk) != states.DELIVERED:
            yield number, title, customer, states_then.get(pk, "open"), held[pk], days.currency


def _maybe_not(moment: datetime, *closed: str) -> QuerySet[Job]:
    """Return the jobs that may have stood otherwise than so at a moment: those that stand otherwise now, and those of
    which something was ended, or undone, since. All others stood as they do now.
    """
    since = JobAct.objects.filter(kind__in=[Kind.DELIVERED, Kind.CANCELLED, Kind.UNDONE], at__gte=moment)
    return Job.objects.filter(~Q(state__in=closed) | Q(pk__in=since.order_by().values("job")))


def _in_by(days: Days, jobs: QuerySet[Job]) -> dict[int, Decimal]:
    """Return what was in of each of some jobs at the end of the last day. What nobody wrote a day of counts as of
    before.
    """
    found: dict[int, Decimal] = defaultdict(Decimal)
    by_then = Q(on__lte=days.last) | Q(on=None, at__lt=days.ends) | Q(on=None, at=None)
    of = JobAct.objects.filter(job__in=jobs.order_by().values("pk")).order_by()
    rows = of.filter(by_then, kind__in=_SIGNS)
    for job, kind, amount in rows.values_list("job_id", "kind").annotate(total=Sum("amount")).iterator():
        found[job] += _SIGNS[kind] * (amount or NOTHING)
    undone = of.filter(kind=Kind.UNDONE, undoes__kind__in=_SIGNS, at__lt=days.ends)
    for job, kind, amount in undone.values_list("job_id", "undoes__kind", "undoes__amount").iterator():
        found[job] -= _SIGNS[kind] * (amount or NOTHING)
    return found


def _states_at(moment: datetime, jobs: QuerySet[Job]) -> dict[int, str]:
    """Return those of some jobs that were delivered or cancelled at a moment, by id. Two queries.

    One that stands so now, and of which no act says when, stood so always.
    """
    ends: dict[str, str] = {Kind.DELIVERED: states.DELIVERED, Kind.CANCELLED: states.CANCELLED}
    found: dict[int, str] = {}
    told: set[tuple[int, str]] = set()
    acts = JobAct.objects.filter(kind__in=ends, job__in=jobs.order_by().values("pk")).order_by("pk")
    for job, kind, at, undone_at in acts.values_list("job_id", "kind", "at", "undone_by__at").iterator():
        told.add((job, ends[kind]))
        if (at is None or at < moment) and (undone_at is None or undone_at >= moment):
            found[job] = ends[kind]
    for job, state in jobs.filter(state__in=states.CLOSED).order_by().values_list("pk", "state").iterator():
        if (job, state) not in told:
            found[job] = state
    return found


def materials(days: Days) -> Iterator[Row]:
    """Yield a row of MATERIALS for each material and what it was used for, by name. Four queries.

    Trials are summed by the database, at each unit cost; what may be a job's, by its posting.
    """
    jobs = _jobs_of_postings(Q(posting__at__gte=days.begins, posting__at__lt=days.ends))
    sums: dict[tuple[str, str, str, int], list[Decimal]] = defaultdict(lambda: [NOTHING, NOTHING])
    rows = StockMovement.objects.filter(kind=Moved.USE, posting__at__gte=days.begins, posting__at__lt=days.ends)
    maybe_a_jobs = Case(When(posting__kind__in=_OF_JOBS, then="posting_id"), default=0, output_field=IntegerField())
    of_trial = Case(When(Q(posting__trial_use__isnull=False) | Q(reverses__posting__trial_use__isnull=False), then=1),
                    default=0, output_field=IntegerField())
    values = rows.order_by().annotate(mine=maybe_a_jobs, of_trial=of_trial).values_list(
        "mine", "of_trial", "lot__material__name", "lot__material__stock_unit", "unit_cost")
    for posting, trial, name, unit, unit_cost, quantity in values.annotate(total=Sum("quantity")).iterator():
        job = jobs.get(posting)
        what_for = "job" if job else "trial" if trial else "other"
        total = sums[name, unit, what_for, job or 0]
        total[0] -= quantity
        total[1] -= quantity * unit_cost
    for (name, unit, what_for, job), (quantity, cost) in sorted(sums.items()):
        if quantity or cost:
            yield name, unit, what_for, job or "", quantity, cost, days.currency


#: postings that a run may have: its own, and the opposite of one that was corrected
_OF_JOBS = (Posting.Kind.RUN, Posting.Kind.REVERSAL)


def _jobs_of_postings(of: Q) -> dict[int, int]:
    """Return the number of a run's job by the id of its posting; of those that were corrected and their opposites, too.

    of: of these runs, and of all those of jobs that were corrected. A posting that corrects another has a key that the
    key of the opposite is made from. Two queries.
    """
    opposites: dict[UUID, tuple[int, int, UUID]] = {}
    back = StockMovement.objects.filter(posting__kind=Posting.Kind.REVERSAL, reverses__posting__kind=Posting.Kind.RUN)
    for key, pk, before, key_before in back.order_by().values_list(
        "posting__key", "posting_id", "reverses__posting_id", "reverses__posting__key",
    ).distinct():
        opposites[key] = pk, before, key_before
    found: dict[int, int] = {}
    corrected = JobAct.objects.filter(kind=Kind.CORRECTED).order_by().values("job")
    runs = Run.objects.filter(of | Q(ticket__job__in=corrected), posting__isnull=False).order_by()
    for posting, key, job in runs.values_list("posting_id", "posting__key", "ticket__job__number").iterator():
        found[posting] = job
        while (opposite := opposites.get(uuid5(key, "back"))) is not None:
            pk, before, key = opposite
            found[pk] = found[before] = job
    return found


@dataclass(frozen=True, kw_only=True)
class _Held:
    """What a lot held at a moment."""

    lot: Lot
    on_hand: Decimal


def _moved(begins: datetime, ends: datetime) -> QuerySet[Any, Row]:
    """Return lot, kind, cost of one, whether at the end or later, and amount: of what is there now, without a kind, and
    of all that moved since the beginning.

    It is one query, so that no posting comes between the two. A level is the sum of all that moved, which the database
    keeps; so nothing older is read.
    """
    later = Case(When(posting__at__gte=ends, then=1), default=0, output_field=IntegerField())
    since = StockMovement.objects.filter(posting__at__gte=begins).order_by().annotate(later=later)
    there = LotLevel.objects.filter(on_hand__gt=0).order_by().annotate(
        kind=Value(""), unit_cost=Value(0), later=Value(0))
    columns = "lot_id", "kind", "unit_cost", "later"
    return since.values_list(*columns).annotate(total=Sum("quantity")).union(
        there.values_list(*columns, "on_hand"), all=True)


def _held(amounts: Mapping[int, Decimal]) -> list[_Held]:
    """Return what each lot held that held something, by material and lot. amounts: by lot."""
    rows = Lot.objects.select_related("material").only(
        "lot_number", "quantity_received", "cost_with_carriage", "material__name", "material__stock_unit")
    lots = among(rows, "pk", (pk for pk, amount in amounts.items() if amount))
    return sorted((_Held(lot=lot, on_hand=amounts[lot.pk]) for lot in lots),
                  key=lambda one: (one.lot.material.name, one.lot.pk))


def stock(days: Days) -> Iterator[Row]:
    """Yield a row of STOCK for each lot that held something at the end of the last day."""
    there: dict[int, Decimal] = defaultdict(Decimal)
    for lot_id, kind, _, _, amount in _moved(days.ends, days.ends):
        there[lot_id] += -amount if kind else amount
    for held in _held(there):
        lot = held.lot
        yield (lot.material.name, lot.lot_number, lot.material.stock_unit, held.on_hand, lot.unit_cost,
               held.on_hand * lot.unit_cost, days.currency)


def stock_moved(days: Days) -> tuple[Decimal, dict[str, Decimal], Decimal]:
    """Return the value of the stock before the first day, what moved it by kind, and its value after the last.

    The first, with all that moved, is the last.
    """
    moved: dict[str, Decimal] = defaultdict(Decimal)
    there: dict[int, Decimal] = defaultdict(Decimal)
    for lot_id, kind, unit_cost, later, amount in _moved(days.begins, days.ends):
        if kind and not later:
            moved[kind] += amount * unit_cost
        else:
            there[lot_id] += -amount if kind else amount
    after = sum((held.on_hand * held.lot.unit_cost for held in _held(there)), NOTHING)
    return after - sum(moved.values(), NOTHING), dict(moved), after


def work(days: Days) -> Iterator[Row]:
    """Yield a row of WORK for each job under way and material at the end of the last day, by number. Six queries."""
    not_over = _maybe_not(days.ends, *states.CLOSED)
    jobs = _jobs_of_postings(Q(ticket__job__in=not_over.order_by().values("pk")))
    states_then = _states_at(days.ends, not_over)
    told = {number: (pk, title, customer) for pk, number, title, customer in not_over.filter(
        pk__in=WorkTicket.objects.filter(run__isnull=False).order_by().values("job"),
    ).order_by().values_list("pk", "number", "order__title", "order__customer__name").iterator()}
    sums: dict[tuple[int, str, str], list[Decimal]] = defaultdict(lambda: [NOTHING, NOTHING])
    rows = StockMovement.objects.filter(
        kind=Moved.USE, posting__at__lt=days.ends, posting__kind__in=_OF_JOBS).order_by()
    values = rows.values_list("posting_id", "lot__material__name", "lot__material__stock_unit", "quantity", "unit_cost")
    under_way = [posting for posting, job in jobs.items() if job in told and told[job][0] not in states_then]
    for posting, name, unit, quantity, unit_cost in (row for part in chunks(under_way)
                                                     for row in values.filter(posting__in=part)):
        total = sums[jobs[posting], name, unit]
        total[0] -= quantity
        total[1] -= quantity * unit_cost
    for (job, name, unit), (quantity, cost) in sorted(sums.items()):
        if quantity or cost:
            _, title, customer = told[job]
            yield job, title, customer, name, unit, quantity, cost, days.currency


ROWS = {"requested": requested, "tax": tax, "payments": payments, "deposits": deposits, "materials": materials,
        "stock": stock, "work": work}


def by_rate(rows: Iterable[Row]) -> list[tuple[str, Decimal, Decimal, Decimal]]:
    """Return rows of TAX summed: name and share of the rate, net, tax."""
    sums: dict[tuple[str, Decimal], list[Decimal]] = defaultdict(lambda: [NOTHING, NOTHING])
    for name, share, _, _, _, net, of_it, _, _ in rows:
        sums[name, share][0] += net
        sums[name, share][1] += of_it
    return [(name, share, net, of_it) for (name, share), (net, of_it) in sorted(sums.items())]
