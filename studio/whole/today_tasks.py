"""What Today knows, as tasks ask of it: rows of every room told as the pure order of tasks reads them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

from django.conf import settings
from django.db.models import Count, Min, Q
from django.urls import reverse
from django.utils.timezone import localtime

from jobs.looking_back.recall import RecallItem
from jobs.models import CustomerAnswer, Job, Order, Quote, Run, WaitingRecord
from jobs.private_links.unread import unread
from jobs.work import quote_states, states
from jobs.work.overtaken import overtaken
from recipes.clocks import Standing
from recipes.models import RecipeVersion, Trial, TrialRecord
from studio.kit.asking import among
from studio.kit.roles import May
from studio.stockroom.models import CountSheet, Lot
from studio.whole.backups.last_good import last_good
from studio.whole.day_words import day_words, plain_day
from studio.whole.to_do import (
    AnswerToRead,
    BackupDue,
    BegunCount,
    Doubt,
    JobToSee,
    NotTaken,
    OpenRun,
    OpenTrial,
    Rank,
    Silver,
)
from studio.whole.today_bench import stands_of

#: so long before its last day a quote that nobody answered is asked about
ASK_DAYS = 7
#: a backup is old after so many days; a studio is asked for its first when its first order is so old
BACKUP_DAYS, SETTLED_DAYS = 7, 14


def silver_standing(standing: Iterable[Standing]) -> list[Silver]:
    """Return the clocks that run. standing: each placed at its run, trial or lot."""
    return [
        Silver(
            clock=found.row.pk, what=found.row.what, where=found.where, address=found.address,
            began=f"{found.row.get_began_display().capitalize()} {localtime(found.row.started_at):%H:%M}",
            alarm_from=localtime(found.clock.alarm_from), alarms=found.clock.alarms,
            run=found.row.of_run.run_id if found.row.trial is None and found.row.lot is None else None,
        )
        for found in standing
    ]


def open_runs(
    runs: Sequence[Run], doubts: Iterable[tuple[Run, list[str]]], *, names_customers: bool,
) -> list[OpenRun]:
    """Return the runs that go on. runs: with ticket, job, order, customer and quote fetched. A fixed number of queries.
    """
    against = {run.pk: tuple(said) for run, said in doubts}
    late = {run.pk: tuple(said) for run, said in overtaken(runs, doubts=False)}
    stands = stands_of(runs)
    return [
        OpenRun(
            pk=run.pk, ticket=str(run.ticket), title=run.ticket.job.order.title, due=run.ticket.job.due_on,
            stands=stands[run.pk], address=reverse("jobs:steps", args=[run.pk]), replaced=run.ticket.replaced,
            customer=run.ticket.job.order.customer.name if names_customers else "",
            doubts=against.get(run.pk, ()), overtaken=late.get(run.pk, ()),
        )
        for run in runs
    ]


def doubts(
    versions: Iterable[tuple[RecipeVersion, str]], trials: Iterable[tuple[Trial, str]],
    jobs: Iterable[tuple[Job, list[str]]], recalls: Iterable[tuple[Lot, list[RecallItem]]], unclassed: int,
) -> Iterator[Doubt]:
    """Yield what is in doubt or held, each as what there is to do about it."""
    for lot, items in recalls:
        things = f"{len(items)} thing{'' if len(items) == 1 else 's'} to look at"
        yield Doubt(
            about=("lot", lot.pk), what=f"Settle what {lot} touched", address=_recall(lot), button="Settle it",
            why=f"Held: {lot.hold_reason.rstrip('.')}. {things}.",
            state="recall",
        )
    for version, why in versions:
        yield Doubt(about=("version", version.pk), what=f"Make {version} sound", why=why, button="Look at the recipe",
                    needs=May.RECIPES,
                    address=reverse("recipes:recipe", args=[version.finish.code, version.number]))
    for trial, why in trials:
        yield Doubt(about=("trial", trial.number), what=f"Settle or close {trial}", why=why, needs=May.WORK,
                    address=reverse("recipes:trial", args=[trial.number]), button="Go to the trial")
    for job, _ in jobs:
        yield Doubt(about=("job", job.number), what=f"Find a sound recipe for {job.order.title}",
                    why="It is booked, and no ticket of it is printed until its recipe is sound.",
                    address=reverse("jobs:job", args=[job.number]), button="Look at the job")
    if unclassed:
        yield Doubt(about=("unclassed", 0), what="Say how what is unclassed reacts", button="Class it",
                    why=f"Of {unclassed} {'material' if unclassed == 1 else 'materials'} nobody knows it.",
                    address=reverse("stockroom:unclassed"), state="unknown")


def _recall(lot: Lot) -> str:
    return reverse("jobs:trace_lot", args=[lot.pk]) + "#recall"


def not_taken(of_runs: Iterable[WaitingRecord], of_trials: Iterable[TrialRecord]) -> list[NotTaken]:
    found = [NotTaken(pk=record.pk, where=str(record.run.ticket), why=record.why,
                      address=reverse("jobs:run", args=[record.run_id]) + "#waiting") for record in of_runs]
    return found + [
        NotTaken(pk=record.pk, where=str(record.trial), why=record.why, of="trial",
                 address=reverse("recipes:trial", args=[record.trial.number]) + "#waiting") for record in of_trials
    ]


def jobs_to_see(
    jobs: Iterable[Job], quotes: Mapping[int, Quote], day: date, answers: Mapping[int, CustomerAnswer],
) -> Iterator[JobToSee]:
    """Yield the jobs whose next move is the owner's. quotes: the newest undecided or accepted one, by order.

    answers: by order, the newest that a customer gave at a private link.
    """
    for job in jobs:
        title, customer, quote = job.order.title, job.order.customer.name, quotes.get(job.order_id)
        found: tuple[Rank, str, str, str] | None = None
        waiting = job.waiting_revision
        if waiting is not None and job.state == states.BOOKED:
            if (waiting.valid_until - day).days <= ASK_DAYS:
                found = (Rank.QUOTE, f"Ask about {waiting}, {title}", "Look at the job",
                         "It waits for the customer's word; what was agreed before stands, and no ticket is printed.")
        elif job.state == states.BOOKED and not job.tickets.all() and not job.waived_because and _lacks(job):
            found = (Rank.TICKET, f"Get the {_lacks(job)} of {title} in", "Look at the job",
                     f"{_agreed(job)} No ticket is printed before.")
        elif job.state == states.BOOKED and not job.tickets.all():
            found = Rank.TICKET, f"Make the work ticket of {title}", "Make the ticket", _agreed(job)
        elif job.state == states.PART_DONE:
            found = (Rank.TICKET, f"Make the rest of {title}, or deliver what is good", "Look at the job",
                     "Fewer good panes than ordered.")
        elif job.state == states.FINISHED:
            found = Rank.DELIVER, f"Pack and deliver {title}", "Deliver it", "It is finished."
        elif job.state in states.WAITING and _is_ours(quote, day):
            enquired = plain_day(localtime(job.order.entered_at).date(), day)
            found = _of_quote(title, quote, day) or (
                Rank.PRICE, f"Price {title}", "Price it", f"Enquiry of {enquired}.")
            found = (*found[:3], found[3] + _said_at_the_link(quote, answers.get(job.order_id), day))
        if found is not None:
            rank, what, button, why = found
            yield JobToSee(
                number=job.number, rank=rank, what=what, button=button, why=f"{customer}. {why}", due=job.due_on,
                address=reverse("jobs:job", args=[job.number]), until=_presses(job, rank, quote),
                state="in part" if job.state == states.PART_DONE else "",
            )


def answers_to_read(day: date) -> list[AnswerToRead]:
    """Return, a task a job, what customers said at their private addresses and nobody read yet. Three queries."""
    found = unread()
    jobs = among(Job.objects.select_related("order"), "pk", found)
    return [AnswerToRead(
        number=job.number, title=job.order.title, address=reverse("jobs:job", args=[job.number]) + "#answers",
        why=" ".join(f"{one.what}, {plain_day(localtime(one.at).date(), day)}." for one in found[job.pk]),
    ) for job in jobs]


def _presses(job: Job, rank: Rank, quote: Quote | None) -> date | None:
    """Return the day by which a job's task is put among its like: a quote's last, an enquiry's own, else none."""
    quote = quote or job.waiting_revision
    if rank == Rank.QUOTE and quote is not None:
        return quote.valid_until
    return localtime(job.order.entered_at).date() if rank == Rank.PRICE else None


def _is_ours(quote: Quote | None, day: date) -> bool:
    """Say whether the next move is the studio's: nothing is with the customer, or it soon lapses."""
    if quote is None or quote.standing_on(day) != quote_states.SENT:
        return True
    return (quote.valid_until - day).days <= ASK_DAYS


def _of_quote(title: str, quote: Quote | None, day: date) -> tuple[Rank, str, str, str] | None:
    if quote is None:
        return None
    standing, until = quote.standing_on(day), day_words(quote.valid_until, day)
    if standing == quote_states.ACCEPTED:
        return Rank.QUOTE, f"Book {title}", "Book it", f"{quote} is accepted: book it when sample and deposit are in."
    if standing == quote_states.DRAFT:
        return Rank.QUOTE, f"Look over and send {quote}, {title}", "Look at the quote", f"A draft, good until {until}."
    if standing == quote_states.LAPSED:
        return (Rank.QUOTE, f"Renew {quote}, {title}, or cancel it", "Look at the quote",
                f"Lapsed {plain_day(quote.valid_until, day)} without an answer.")
    return (Rank.QUOTE, f"Ask about {quote}, {title}", "Look at the quote",
            f"No answer yet, and it is good until {until}.")


def _said_at_the_link(quote: Quote | None, answer: CustomerAnswer | None, day: date) -> str:
    """Return who answered at the private link where the job stands as that answer left it; nothing elsewhere."""
    if answer is None:
        return ""
    of, on = answer.link.quote, plain_day(localtime(answer.at).date(), day)
    decided = quote if answer.accepted else of  # of options, what was chosen is a revision of its own
    said = quote_states.ACCEPTED if answer.accepted else quote_states.DECLINED
    if decided is None or decided.state != said or decided.decided_at is None or decided.decided_at > answer.at or (
            answer.accepted and decided != of and not answer.choice):
        return ""
    if answer.accepted:
        of_them = f"{answer.choice} of it" if answer.choice else "it"
        return f" {answer.name} accepted {of_them} at the private link, {on}."
    return f" {answer.name} declined {of} at the private link, {on}" + (f": “{answer.said}”." if answer.said else ".")


def _lacks(job: Job) -> str:
    """Return what a booked job lacks, by what its row says; "" where nothing."""
    return " and ".join([*([] if job.sample_approved else ["sample"]), *([] if job.deposit_noted else ["deposit"])])


def _agreed(job: Job) -> str:
    """Return what was agreed at booking: “Sample approved; goes ahead without deposit: paid last time.”"""
    sample = "Sample approved" if job.sample_approved else "Sample not approved"
    deposit = "deposit in" if job.deposit_noted else "deposit not in"
    why = f"; goes ahead by your word: {job.waived_because.rstrip('.')}" if job.waived_because else ""
    return f"{sample}, {deposit}{why}."


def open_trials(trials: Iterable[Trial]) -> list[OpenTrial]:
    return [OpenTrial(number=trial.number, finish=str(trial.recipe_version), question=trial.question,
                      begun=localtime(trial.started_at).date(), address=reverse("recipes:trial", args=[trial.number]))
            for trial in trials]


def begun_counts() -> list[BegunCount]:
    """Return the counts that are not saved yet. One query."""
    sheets = CountSheet.objects.filter(posted_at=None).annotate(
        of=Count("lines"), figures=Count("lines", filter=Q(lines__counted__isnull=False)))
    return [BegunCount(pk=sheet.pk, place=sheet.place, counted=sheet.figures, of=sheet.of,
                       begun=localtime(sheet.as_of).date(), address=reverse("stockroom:count", args=[sheet.pk]))
            for sheet in sheets]


def backup_due(day: date) -> list[BackupDue]:
    """Return that a backup is to be made: not in the demo, nor before a studio has worked for a while. One query."""
    if settings.DATA.name == ".daybook-demo":
        return []
    made = last_good()
    made_on = localtime(made).date() if made else None
    if made_on and 0 <= (day - made_on).days <= BACKUP_DAYS:
        return []
    first = Order.objects.filter(job__isnull=False).aggregate(first=Min("entered_at"))["first"]
    if first is None or (day - localtime(first).date()).days < SETTLED_DAYS:
        return []
    return [BackupDue(made_on=made_on, address=reverse("studio:guide", args=["backups"]))]
