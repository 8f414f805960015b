"""Which of a job's acts can be undone now, what that changes in words, and undoing it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from django.urls import reverse

from jobs.acts import NotUndone
from jobs.models import Job, JobAct, Quote
from jobs.quotes.choosing import offered_by
from jobs.quotes.quoting import take_back, undo_answer
from jobs.work import states
from jobs.work.agreed import why_answer_stays
from jobs.work.booking import undo_booking, undo_delivery
from jobs.work.cancelling import undo_cancelling
from jobs.work.coming_in import UNDONE_HERE, undo_taking_in
from jobs.work.revising import undo_revision_answer
from studio.house.templatetags.figures import as_read, money

Kind = JobAct.Kind


@dataclass(frozen=True, kw_only=True)
class Undo:
    """act: what is undone; label: of the button; follows: what that changes, a sentence each; do: by whom, and why."""

    act: JobAct
    label: str
    follows: Sequence[str]
    do: Callable[..., object]


def undoable(job: Job, acts: Sequence[JobAct]) -> dict[int, str]:
    """Return where each act that can be undone now is undone, by its id. acts: of the job, in order; none is asked."""
    undone = {act.undoes_id for act in acts if act.undoes_id}
    newest = {(act.kind, act.quote_id): act.pk for act in acts if act.pk not in undone}
    return {
        act.pk: reverse("jobs:undo", args=[job.number, act.pk]) for act in acts
        if act.pk not in undone and may_undo(job, act)
        and (act.kind in UNDONE_HERE or newest[act.kind, act.quote_id] == act.pk)
    }


def may_undo(job: Job, act: JobAct) -> bool:
    """Say whether the state of an act's job and of its quote allow to undo it; the service that does it looks again."""
    quote = next((row for row in job.order.quotes.all() if row.pk == act.quote_id), None)
    kind = act.kind
    if kind == Kind.SENT:
        return states.allows(job.state, states.TAKE_BACK) and quote is not None and quote.can_take_back
    if kind in (Kind.ACCEPTED, Kind.DECLINED):
        if quote is None or quote.state != kind:
            return False
        if states.allows(job.state, states.UNDO_REVISED):
            return not _why_answer_stays(job, quote)
        return states.allows(job.state, states.UNDO_ANSWER)
    if kind in UNDONE_HERE:
        return states.allows(job.state, states.UNDO_CAME_IN)
    if kind == Kind.BOOKED:
        return job.can_undo_booking
    if kind == Kind.DELIVERED:
        return job.can_undo_delivery
    return kind == Kind.CANCELLED and job.can_undo_cancelling


def _why_answer_stays(job: Job, quote: Quote) -> str:
    return why_answer_stays(job, quote, list(job.order.quotes.all()), job.tickets.all())


def undo_of(job: Job, act: JobAct, currency: str) -> Undo:
    """Return how an act is undone. Raises NotUndone for one that is not, with why."""
    if hasattr(act, "undone_by"):
        raise NotUndone("That was undone already.")
    kind, quote = act.kind, act.quote
    if not may_undo(job, act):
        answered = kind in (Kind.ACCEPTED, Kind.DECLINED) and quote is not None and job.state == states.BOOKED
        why = _why_answer_stays(job, quote) if answered and quote is not None else ""
        raise NotUndone(why or f"That is not undone while this job is {job.state}.")
    if kind == Kind.SENT and quote is not None:
        return Undo(act=act, label=f"Take {quote} back", do=partial(take_back, quote=quote),
                    follows=[f"{quote} is a draft again. Its paper stays as it was kept."])
    if kind in (Kind.ACCEPTED, Kind.DECLINED) and quote is not None and job.state == states.BOOKED:
        follows = [f"{quote} waits for the customer again; what was agreed before it stands until the answer."]
        if kind == Kind.DECLINED:
            follows.append("The order is again as the revision asks, and its stock is promised so.")
        return Undo(act=act, label=f"Undo that {quote} was {kind}", follows=follows,
                    do=partial(undo_revision_answer, quote=quote))
    if kind in (Kind.ACCEPTED, Kind.DECLINED) and quote is not None:
        before = "sent, without an answer," if quote.sent_at else "a draft"
        offered = offered_by(quote)
        follows = [f"{quote} is {before} again."] if offered is None else [
            f"{offered} waits for the customer again, with all of its options.",
            "The order has all of them again, unless it was changed since."]
        replaced = [row for row in job.order.quotes.all() if row.state == row.State.REPLACED and row != offered]
        if kind == Kind.ACCEPTED and replaced:
            follows.append(f"{replaced[0]}, which it replaced, is accepted again.")
        return Undo(act=act, label=f"Undo that {quote} was {kind}", follows=follows,
                    do=partial(undo_answer, quote=quote))
    if kind in UNDONE_HERE:
        how = "was given back" if act.went_back else "came in"
        what = "the sample was approved" if kind == Kind.SAMPLE else f"{money(act.amount or 0, currency)} {how}"
        return Undo(act=act, label=f"Undo that {what}", do=partial(undo_taking_in, act=act),
                    follows=["It stays in the story, marked as undone."])
    if kind == Kind.BOOKED:
        return Undo(act=act, label="Undo the booking", do=partial(undo_booking, job=job),
                    follows=["The job is quoted again, its quote accepted.", *_set_aside(job), *promised_in_words(job)])
    if kind == Kind.DELIVERED:
        return Undo(act=act, label="Undo the delivery", do=partial(undo_delivery, job=job),
                    follows=["The job stands as its runs left it, and can be delivered again."])
    return Undo(act=act, label="Undo the cancelling", do=partial(undo_cancelling, job=job),
                follows=_stands_again(job))


def _set_aside(job: Job) -> list[str]:
    """Return what becomes of a revision that waits: a sentence, or nothing."""
    waiting = job.waiting_revision
    return [] if waiting is None else [
        f"{waiting}, which nobody agreed to, is set aside; the order is again as it was agreed before."]


def promised_in_words(job: Job) -> list[str]:
    """Return what a job's reservation lets go of: a sentence, with amounts as they are read."""
    if job.reservation is None or job.reservation.released_at is not None:
        return []
    amounts = [f"{as_read(row.quantity, row.material.stock_unit)} of {row.material.name}"
               for row in job.reservation.amounts.all()]
    return [f"Free again in the stockroom: {', '.join(amounts)}."] if amounts else []


def _stands_again(job: Job) -> list[str]:
    if job.booked_at is None:
        return ["The job stands as its quotes leave it. Nothing was promised to it."]
    tickets = list(job.tickets.all())
    if any(ticket.own_run is not None and ticket.own_run.finished_at for ticket in tickets):
        return ["The job is part done again: what its runs made and used stays as it was recorded."]
    amounts = job.reservation.amounts.all() if job.reservation else []
    what = ", ".join(f"{as_read(row.quantity, row.material.stock_unit)} of {row.material.name}" for row in amounts)
    ticket = [f"{tickets[0]} stands: nothing was recorded on it."] if tickets else []
    return ["The job is booked again.", *ticket, f"Promised to it again: {what}."]
