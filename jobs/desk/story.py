"""A job's story in order: what happened, what is under way, what is still to come, each with who and when.

It gathers from rows that were fetched before and asks the database nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time

from django.urls import reverse
from django.utils.timezone import get_current_timezone, localtime, make_aware

from jobs.desk.bench_story import BenchStory
from jobs.desk.order_then import lines_now, lines_then, what_changed
from jobs.models import Job, JobAct, Quote, WentAhead, WorkTicket
from jobs.money.of_job import Money
from jobs.work import states
from jobs.work.agreed import KEPT
from recipes.clocks import Standing
from studio.house.templatetags.figures import money

DONE, NOW, TO_COME, DUE = "done", "now", "to", "due"
Kind = JobAct.Kind
#: how the mark on the thread is read aloud
MARKS = {DONE: "Done", NOW: "Now", TO_COME: "To come", DUE: "Due"}


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One thing of a story. when: a moment, a day, or None where nobody wrote it down; who: "" likewise.

    recorded: when a day was written down. more: lines under the sentence. link: where it can be looked at; undo:
    where it can be undone. was_undone: said of what did not last.
    """

    sentence: str
    mark: str = DONE
    when: datetime | date | None = None
    recorded: datetime | None = None
    who: str = ""
    more: Sequence[str] = ()
    link: str = ""
    undo: str = ""
    was_undone: str = ""
    tone: str = ""

    @property
    def mark_in_words(self) -> str:
        return MARKS[self.mark]

    @property
    def moment(self) -> datetime | None:
        """Return the moment to sort by: a day that was recorded on itself counts as that moment, any other as noon."""
        if self.when is None or isinstance(self.when, datetime):
            return self.when
        if self.recorded is not None and localtime(self.recorded).date() == self.when:
            return self.recorded
        return make_aware(datetime.combine(self.when, time(12)), get_current_timezone())

    @property
    def is_a_day(self) -> bool:
        return self.when is not None and not isinstance(self.when, datetime)


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What a story is told from. undoable: the pks of acts that can be undone now, with where; what_next: in words."""

    job: Job
    acts: Sequence[JobAct]
    bench: BenchStory
    standing: Sequence[Standing]
    paid: Money
    what_next: str
    undoable: dict[int, str] = field(default_factory=dict)
    ahead: Sequence[WentAhead] = ()
    lacks_sample: bool = False

    @property
    def currency(self) -> str:
        return self.paid.currency


def story_of(facts: Facts) -> list[Entry]:
    """Return the story in order: what is done by its moment, what is under way, then what is still to come."""
    done = [*_beginning(facts), *_quotes(facts), *_requests(facts), *_acts(facts), *_ahead(facts),
            *_tickets(facts), *facts_of_bench(facts)]
    known = sorted((entry for entry in done if entry.moment is not None), key=lambda entry: entry.moment or 0)
    unknown = [entry for entry in done if entry.moment is None]
    return [*known, *unknown, *_now(facts), *_to_come(facts)]


def _beginning(facts: Facts) -> Iterable[Entry]:
    """What it was at the start is told where nothing was changed since, and no quote tells it."""
    order = facts.job.order
    as_entered = order.saves == 1 and not order.quotes.all()
    yield Entry(sentence="Enquiry entered.", when=order.entered_at, who=order.entered_by.name,
                more=lines_now(list(order.lines.all())) if as_entered else ())


def _quotes(facts: Facts) -> Iterable[Entry]:
    """Each quote tells what it was saved for: the first its lines, a later one what changed since the one before."""
    revised = {act.quote_id for act in facts.acts if act.kind == Kind.REVISED}
    quotes = list(reversed(facts.job.order.quotes.all()))
    for before, quote in zip([None, *quotes], quotes, strict=False):
        more = lines_then(quote) if before is None else what_changed(before, quote)
        yield Entry(sentence=f"{quote} saved at {money(quote.total, quote.currency)}.", when=quote.made_at,
                    who=quote.made_by.name, link=reverse("jobs:quote_paper", args=[quote.pk]),
                    more=() if quote.pk in revised else more)


def _requests(facts: Facts) -> Iterable[Entry]:
    for row in facts.paid.asked:
        said = (f"takes back {money(row.taken_off, row.currency)} of {row.credits.label}" if row.credits is not None
                else f"{money(row.total, row.currency)}, due {row.due_on:%-d %b %Y}")
        yield Entry(sentence=f"{row}: {said}.", when=row.at, who=row.by.name,
                    more=[f"“{row.note}”"] if row.note else [], link=reverse("jobs:request_paper", args=[row.pk]))


def _changed_by(act: JobAct, facts: Facts) -> list[str]:
    """Return what an act changed of the order: of a revision by its two quotes, of the newest change as it is now."""
    quotes = list(facts.job.order.quotes.all())
    if act.kind == Kind.REVISED:
        quote = next((row for row in quotes if row.pk == act.quote_id), None)
        earlier = [row for row in quotes if quote is not None and row.revision < quote.revision]
        stood = next((row for row in earlier if row.state in (Quote.State.ACCEPTED, Quote.State.REPLACED)), None)
        return what_changed(stood, quote) if stood is not None and quote is not None else []
    last = max((row.pk for row in facts.acts if row.kind in (Kind.ORDER_CHANGED, Kind.REVISED)), default=None)
    follows = act.at is not None and any(quote.made_at > act.at for quote in quotes)
    return lines_now(list(facts.job.order.lines.all())) if act.pk == last and not follows else []


def _acts(facts: Facts) -> Iterable[Entry]:
    undone = {act.undoes_id: act for act in facts.acts if act.undoes_id}
    by_pk = {act.pk: act for act in facts.acts}
    for act in facts.acts:
        who = act.by.name if act.by else ""
        if act.undoes_id is not None:
            yield Entry(sentence=f"Undone: {_said(by_pk[act.undoes_id], facts)}", when=act.at, who=who,
                        more=[f"Why: {act.note}"])
            continue
        late = [f"Recorded {_day(act.at)}"] if act.on and act.at and localtime(act.at).date() != act.on else []
        note = [f"“{act.note}”"] if act.note else []
        yield Entry(
            sentence=_said(act, facts), when=act.on or act.at, recorded=act.at, who=who,
            more=[*note, *late, *(_changed_by(act, facts) if act.kind in (Kind.ORDER_CHANGED, Kind.REVISED) else ())],
            undo=facts.undoable.get(act.pk, ""), was_undone="undone since" if act.pk in undone else "",
        )


def _ahead(facts: Facts) -> Iterable[Entry]:
    """What a ticket goes ahead without is said where it is not the reason of the booking itself, told with that."""
    for said in facts.ahead:
        if facts.job.booked_at is None or (said.at - facts.job.booked_at).total_seconds() > 1:
            finish = said.recipe_version
            what = f"the sample of {finish.finish.name}" if finish is not None else "the deposit"
            yield Entry(sentence=f"Goes ahead without {what}.", when=said.at, who=said.by.name if said.by else "",
                        more=[f"“{said.because}”"])


def _said(act: JobAct, facts: Facts) -> str:
    quote = str(act.quote or "The quote")
    return {
        Kind.ORDER_CHANGED: "The order was changed.", Kind.SENT: f"{quote} sent.",
        Kind.ACCEPTED: f"{quote} accepted{_at_total(act.quote)}.",
        Kind.DECLINED: f"{quote} declined{_as_agreed(act.quote)}.",
        Kind.BOOKED: "Booked; its stock is promised.",
        Kind.REVISED: f"The booked order was changed: {quote} replaced the one before.",
        Kind.SAMPLE: "Sample approved.", Kind.PAID: f"In{_how(act)}: {money(act.amount or 0, facts.currency)}.",
        Kind.GIVEN_BACK: f"Given back{_how(act)}: {money(act.amount or 0, facts.currency)}.",
        Kind.DELIVERED: "Delivered.", Kind.CANCELLED: "Cancelled.",
        Kind.CORRECTED: "What the run deducted was corrected.",
    }[Kind(act.kind)]


def _how(act: JobAct) -> str:
    return f" {act.get_how_display()}" if act.how else ""


def _as_agreed(quote: Quote | None) -> str:
    """A revision of a booked order gives way to what was agreed before it."""
    return ": the order is as it was agreed again" if quote is not None and KEPT in quote.wording else ""


def _at_total(quote: Quote | None) -> str:
    return f" at {money(quote.total, quote.currency)}" if quote else ""


def _day(moment: datetime) -> str:
    return f"{localtime(moment):%-d %b %Y}"


def _tickets(facts: Facts) -> Iterable[Entry]:
    for ticket in facts.job.tickets.all():
        yield Entry(sentence=f"{ticket} printed: {_ticket_in_words(ticket)}.", when=ticket.made_at,
                    who=ticket.made_by.name, link=reverse("jobs:ticket_paper", args=[ticket.pk]),
                    more=[f"In place of {ticket.replaced}."] if ticket.replaced else [])


def _ticket_in_words(ticket: WorkTicket) -> str:
    """Return how much a ticket makes, of its frozen plan: “8 panes in 3 loads, 2 of them spare”."""
    panes = ticket.plan["panes"]
    loads = sum(len(recipe["loads"]) for recipe in ticket.plan["recipes"])
    spare = sum(1 for pane in panes if pane["spare"])
    return (f"{len(panes)} pane{'' if len(panes) == 1 else 's'} in {loads} load{'' if loads == 1 else 's'}"
            + (f", {spare} of them spare" if spare else ""))


def facts_of_bench(facts: Facts) -> Iterable[Entry]:
    for event in facts.bench.events:
        yield Entry(sentence=event.sentence, when=event.when, who=event.who, link=event.link, tone=event.tone)


def _now(facts: Facts) -> Iterable[Entry]:
    job = facts.job
    if job.state in states.CLOSED:
        return
    yield Entry(sentence=facts.bench.now or facts.what_next, mark=NOW, more=facts.bench.loads)


def _to_come(facts: Facts) -> Iterable[Entry]:
    job = facts.job
    if job.state in states.CLOSED:
        if job.state == states.DELIVERED and facts.paid.still_due:
            yield Entry(sentence=f"{facts.paid.due_in_words} is still to come.", mark=TO_COME)
        return
    if job.quote is not None and job.quote.state == Quote.State.SENT:
        yield Entry(sentence=f"{job.quote} agreed by the customer", mark=TO_COME)
    if facts.lacks_sample:
        yield Entry(sentence="Sample approved by the customer", mark=TO_COME)
    if not job.deposit_noted and not facts.paid.asks_no_deposit:
        yield Entry(sentence="Deposit in", mark=TO_COME)
    if job.is_waiting:
        yield Entry(sentence="Booked, and its stock promised", mark=TO_COME)
    if job.is_waiting or (job.state == states.BOOKED and not job.tickets.all()):
        yield Entry(sentence="Work ticket printed", mark=TO_COME)
    for silver in facts.standing:
        yield Entry(sentence=f"{silver.row.what} made safe", mark=TO_COME, when=silver.clock.alarm_from,
                    tone="danger", more=["not made safe yet; its alarm is at this time"])
    if job.is_waiting or job.state in (states.BOOKED, states.ON_THE_BENCH):
        yield Entry(sentence="Silvered, made safe and finished", mark=TO_COME)
    due = job.due_on or job.order.due_on
    money_due = f"; {facts.paid.due_in_words} is still to come" if facts.paid.still_due else ""
    yield Entry(sentence=f"Delivered{money_due}", mark=DUE if due else TO_COME, when=due)
