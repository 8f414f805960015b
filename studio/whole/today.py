"""What the Today page gathers from all rooms, and for whom: a helper gets no prices, quotes, customers or enquiries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import (
    F,
    Prefetch,
    Q,
    QuerySet,
    prefetch_related_objects,
)
from django.utils.timezone import localtime

from jobs.looking_back.recall import RecallItem, unsettled
from jobs.models import CustomerAnswer, Job, MoneyRequest, Quote, Run, WorkTicket
from jobs.models.quotes import frozen_of
from jobs.money.in_rows import asked_for, came_in, due_in_all, fees
from jobs.money.of_job import Money, money_of
from jobs.work import quote_states, states
from jobs.work.clock import standing_now
from jobs.work.in_doubt import jobs_in_doubt, runs_in_doubt
from jobs.work.records import waiting_records
from recipes.clocks import Standing
from recipes.finishes.in_doubt import versions_in_doubt
from recipes.models import RecipeVersion, Trial
from recipes.trials.against_stops import open_trials_in_doubt
from recipes.trials.conducting import waiting_of_trials
from studio.house.models import House, HouseRates, Person
from studio.kit.asking import among, chunks, fetched
from studio.kit.roles import May
from studio.stockroom.models import Lot, Material, Purchase
from studio.stockroom.shelf import Standing as OnShelf
from studio.stockroom.shelf import lots_there, standings_of
from studio.whole.opening import first_line, second_line
from studio.whole.to_do import Known, OpenRun, Rank, Silver, Task, to_do
from studio.whole.today_shelf import Shelf, ShelfRow, ending_lots, shelf_rows
from studio.whole.today_tasks import (
    answers_to_read,
    backup_due,
    begun_counts,
    doubts,
    jobs_to_see,
    not_taken,
    open_runs,
    open_trials,
    silver_standing,
)
from studio.whole.today_waits import (
    OnADay,
    Waits,
    by_day,
    of_cancelled,
    of_customers,
    of_delivered,
    of_requests,
    of_suppliers,
    of_the_studio,
)

#: so many tasks stand open in the list, and rows in a table; the rest is one press away
FIRST_TASKS, FIRST_ROWS = 12, 50


@dataclass(frozen=True, kw_only=True)
class InDoubt:
    """What was entered after the fact, or nobody knows yet: told until somebody looks at it."""

    versions: list[tuple[RecipeVersion, str]]
    trials: list[tuple[Trial, str]]
    jobs: list[tuple[Job, list[str]]]
    recalls: list[tuple[Lot, list[RecallItem]]]
    unclassed: int
    #: how they react is known, and nobody entered their hazard statements
    without_hazards: list[Material]

    @property
    def stands(self) -> bool:
        return bool(self.versions or self.trials or self.jobs or self.recalls or self.unclassed or self.without_hazards)


@dataclass(frozen=True, kw_only=True)
class Finished:
    """A job whose panes are done and not with the customer. days: how long they have waited."""

    job: Job
    on: date | None
    days: int


@dataclass(frozen=True, kw_only=True)
class Today:
    """Everything the Today page shows, each list in the order it is shown."""

    day: date
    first_line: str
    second_line: str
    tasks: list[Task]
    standing: list[Standing]
    in_doubt: InDoubt
    customers: list[Waits]
    suppliers: list[Waits]
    studio: list[Waits]
    days: list[OnADay]
    shelf: list[ShelfRow]
    finished: list[Finished]
    has_materials: bool

    @property
    def first_tasks(self) -> list[Task]:
        return self.tasks[:FIRST_TASKS]

    @property
    def later_tasks(self) -> list[Task]:
        return self.tasks[FIRST_TASKS:]

    @property
    def first_rows(self) -> list[ShelfRow]:
        return self.shelf[:FIRST_ROWS]

    @property
    def more_rows(self) -> int:
        return max(len(self.shelf) - FIRST_ROWS, 0)


def gather(person: Person, day: date) -> Today:
    """Return what concerns a person today. The number of queries is fixed, whatever there is."""
    runs_desk = person.may(May.ORDERS)
    jobs = _open_jobs(day)
    not_booked = [job.order_id for job in jobs if job.is_waiting] if runs_desk else []
    quotes = _newest_quotes(not_booked)
    runs = list(Run.objects.open().select_related("ticket__job__order__customer", "ticket__job__quote").defer(
        *frozen_of("ticket__job__quote")))
    shelf = _shelf(day)
    in_doubt = _in_doubt(jobs, shelf.standings)
    standing = standing_now(House.objects.first() or House())
    silver = silver_standing(standing)
    on_bench = open_runs(runs, runs_in_doubt(runs), names_customers=runs_desk)
    counts, purchases = begun_counts(), _awaited()
    known: list[Known] = [
        *silver, *on_bench, *not_taken(waiting_records(), waiting_of_trials()),
        *ending_lots(shelf), *counts,
        *doubts(in_doubt.versions, in_doubt.trials, in_doubt.jobs, in_doubt.recalls, in_doubt.unclassed),
        *jobs_to_see(jobs, quotes, day, _answers(not_booked)), *open_trials(_trials()),
        *(answers_to_read(day) if runs_desk else ()), *(backup_due(day) if person.may(May.STUDIO) else ()),
    ]
    tasks = to_do(known, day, person.may)
    lines = _opening(tasks, on_bench, silver, _late(jobs, day, runs_desk=runs_desk), day)
    return Today(
        day=day, first_line=lines[0], second_line=lines[1], tasks=tasks, standing=standing, in_doubt=in_doubt,
        customers=_customers(jobs, quotes, day) if runs_desk else [],
        suppliers=of_suppliers(purchases, shelf.held, day, runs_desk=runs_desk),
        studio=of_the_studio(jobs, quotes, counts, day, runs_desk=runs_desk)
        + (_of_cancelled() if runs_desk else []),
        days=by_day(jobs, quotes, purchases, shelf, runs_desk=runs_desk), shelf=shelf_rows(shelf, runs_desk=runs_desk),
        finished=_finished(jobs, day) if runs_desk else [], has_materials=bool(shelf.standings),
    )


def _late(jobs: Iterable[Job], day: date, *, runs_desk: bool) -> list[tuple[str, date]]:
    """Return title and day of what is past due: of the bench for all, of delivering for the owner."""
    mine = states.WAS_BOOKED if runs_desk else states.PROMISED
    return [(job.order.title, job.due_on) for job in jobs if job.state in mine and job.due_on and job.due_on < day]


def _opening(
    tasks: Sequence[Task], runs: Sequence[OpenRun], silver: Sequence[Silver], late: Sequence[tuple[str, date]],
    day: date,
) -> tuple[str, str]:
    named = not silver and any(task.rank not in (Rank.SILVER, Rank.BENCH) for task in tasks)
    return first_line(tasks, runs, silver, day), second_line(tasks, late, day, first_is_said=named)


def _open_jobs(day: date) -> list[Job]:
    """Return every job that there is something to do about, with what its pages and tasks ask, oldest first."""
    rows = Job.objects.to_see(day).select_related("order__customer", "quote")
    rows = rows.defer(*frozen_of("quote")).order_by("number")
    jobs = fetched(rows, "order__lines__recipe_version__finish")
    for part in chunks(jobs):
        prefetch_related_objects(part, Prefetch("tickets", WorkTicket.objects.defer("plan").select_related("run")))
    return jobs


def _newest_quotes(orders: Iterable[int]) -> dict[int, Quote]:
    """Return by order the quote that counts of a job not booked: the accepted one, else its newest undecided."""
    found: dict[int, Quote] = {}
    rows = Quote.objects.exclude(state__in=[quote_states.DECLINED, quote_states.REPLACED]).defer(*frozen_of())
    for quote in among(rows.order_by("revision", "pk"), "order_id", orders):
        if not (quote.order_id in found and found[quote.order_id].is_accepted):
            found[quote.order_id] = quote
    return found


def _answers(orders: Iterable[int]) -> dict[int, CustomerAnswer]:
    """Return by order the newest answer at a private link, of jobs not booked."""
    rows = CustomerAnswer.objects.select_related("link__quote").defer(*frozen_of("link__quote"))
    return {answer.link.quote.order_id: answer
            for answer in among(rows.order_by("pk"), "link__quote__order_id", orders)}


def _customers(jobs: Sequence[Job], quotes: Mapping[int, Quote], day: date) -> list[Waits]:
    """Return what customers have to answer or to pay. Money is read only of the jobs that may owe some."""
    delivered, asked = list(_delivered_and_owed()), list(_asked_and_owed())
    known = {job.pk: job for job in (*asked, *jobs, *delivered)}
    asked = [known[job.pk] for job in asked]  # one object a job, so that its money is fetched once
    without = [job for job in jobs if job.was_booked and not job.deposit_noted]
    money = _money(list({job.pk: known[job.pk] for job in (*delivered, *without, *asked)}.values()))
    return (of_customers(jobs, quotes, money, day) + of_requests(asked, money, day)
            + of_delivered(delivered, money, day))


def _asked_and_owed() -> QuerySet[Job]:
    """Return the jobs of which more was asked for than came in."""
    rows = Job.objects.annotate(came_in=came_in(), asked_for=asked_for())
    return rows.filter(asked_for__gt=F("came_in")).select_related("order__customer", "quote").defer(
        *frozen_of("quote")).order_by("number")


def _delivered_and_owed() -> QuerySet[Job]:
    """Return the delivered jobs of which less came in than they come to; a revision without an answer as well."""
    rows = Job.objects.filter(state=states.DELIVERED, quote__isnull=False).annotate(came_in=came_in(), due=due_in_all())
    owed = rows.filter(Q(came_in__lt=F("due")) | Q(quote__state=quote_states.SENT))
    return owed.select_related("order__customer").order_by("number")


def _of_cancelled() -> list[Waits]:
    rows = Job.objects.filter(state=states.CANCELLED).annotate(came_in=came_in(), fees=fees())
    jobs = list(rows.filter(came_in__gt=F("fees")).select_related("order").order_by("number"))
    return of_cancelled(jobs, _money(jobs, HouseRates.objects.values_list("currency", flat=True).first() or ""))


def _money(jobs: Sequence[Job], currency: str = "") -> dict[int, Money]:
    """Return the money of jobs by their number. currency: where no quote says it."""
    # what a revision keeps of what was agreed is in its wording
    quotes = Quote.objects.defer("basis", "plan", "figures", "choices")
    requests = MoneyRequest.objects.to_sum_up()
    for part in chunks(jobs):
        prefetch_related_objects(part, Prefetch("order__quotes", quotes), "acts", "quote",
                                 Prefetch("money_requests", requests))
    return {job.number: money_of(job, list(job.acts.all()), currency, list(job.money_requests.all())) for job in jobs}


def _shelf(day: date) -> Shelf:
    materials = list(Material.objects.all())
    lots = lots_there(materials)
    return Shelf(day=day, lots=lots, standings=standings_of(materials, lots, day))


def _in_doubt(jobs: Iterable[Job], shelf: Iterable[OnShelf]) -> InDoubt:
    materials = [standing.material for standing in shelf]
    return InDoubt(
        versions=versions_in_doubt(), trials=open_trials_in_doubt(), jobs=jobs_in_doubt(jobs), recalls=unsettled(),
        unclassed=sum(material.is_unclassed for material in materials),
        without_hazards=[material for material in materials
                         if material.hazards_not_entered and not material.is_unclassed],
    )


def _trials() -> Iterable[Trial]:
    return Trial.objects.filter(closed_at=None).select_related("recipe_version__finish").order_by("number")


def _awaited() -> list[Purchase]:
    return list(Purchase.objects.filter(lot=None, cancelled_because="").select_related("material"))


def _finished(jobs: Iterable[Job], day: date) -> list[Finished]:
    found = []
    for job in jobs:
        if job.state in (states.FINISHED, states.PART_DONE):
            ends = [run.finished_at for ticket in job.tickets.all() if (run := ticket.own_run) and run.finished_at]
            on = localtime(max(ends)).date() if ends else None
            found.append(Finished(job=job, on=on, days=(day - on).days if on else 0))
    return sorted(found, key=lambda one: (one.job.due_on or date.max, one.job.number))
