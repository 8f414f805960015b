"""Ask for long work, and cancel it. Whoever may ask for a kind sees it, whoever asked."""

from __future__ import annotations

import hashlib
import json
from datetime import timedelta
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import QuerySet

from studio.house.clock import now
from studio.house.long_work.kinds import Inputs, kind_of, kinds_for
from studio.house.models import LongWork, LongWorker, Person
from studio.kit.errors import DaybookError
from studio.kit.locks import tried_three_times

#: a heart that has not beaten for so long has stopped: it beats every two seconds at work, every ten at rest
STOPPED_AFTER = timedelta(seconds=30)


class NotAsked(DaybookError):
    """Long work that nobody knows how to do, or that is not this person's to ask for."""


class StillCancelling(NotAsked):
    """The same work is being cancelled."""


@tried_three_times
def ask(*, kind: str, inputs: Inputs, by: Person) -> LongWork:
    """Ask for a piece of work; return it, or the same work that is open already. Raises NotAsked, StillCancelling.

    inputs: what JSON can say, and all that the work needs to know.
    """
    known = kind_of(kind)
    if known is None or not by.may(known.needs):
        raise NotAsked("That is no work that can be asked for here.")
    found = hashlib.sha256(json.dumps(inputs, sort_keys=True).encode()).hexdigest()
    is_open = LongWork.objects.filter(kind=kind, inputs_sha256=found, state__in=LongWork.OPEN)
    try:
        with transaction.atomic():
            if (same := is_open.first()) is not None:
                if same.is_cancelling:
                    raise StillCancelling("That is still being cancelled: ask for it again once it has ended.")
                return same
            work = LongWork(kind=kind, title=known.title(inputs)[:200], inputs=inputs, inputs_sha256=found,
                            asked_at=now(), asked_by=by, task=UUID(int=0))
            work.save()
            send(work)
            return work
    except IntegrityError:  # somebody else asked for the same at this moment
        if (same := is_open.first()) is not None:
            return same
        raise


def send(work: LongWork) -> None:
    """Give a waiting piece of work to the task library, in the transaction at hand."""
    from studio.house.long_work.doing import do_long_work  # the tasks are made once the settings are read

    work.task = UUID(str(do_long_work.enqueue(work.pk).id))
    LongWork.objects.filter(pk=work.pk).update(task=work.task)


@tried_three_times
def cancel(work: LongWork, by: Person) -> LongWork:
    """Cancel a piece of work: at once where it waits, else where it next tells how far it is. What ended stays."""
    asked = {"cancel_asked_at": now(), "cancel_asked_by": by}
    with transaction.atomic():
        LongWork.objects.select_for_update().get(pk=work.pk)  # it is not put back between the two
        waiting = LongWork.objects.filter(pk=work.pk, state=LongWork.State.WAITING)
        if not waiting.update(state=LongWork.State.CANCELLED, ended_at=now(), **asked):
            LongWork.objects.filter(pk=work.pk, state=LongWork.State.AT_WORK, cancel_asked_at=None).update(**asked)
    work.refresh_from_db()
    return work


def clear_what_came(by: Person) -> None:
    """Let nothing stay of what long work has said and brought so far: somebody's words are to be gone.

    What is at work may have read them already: it is cancelled. What is begun before the transaction at hand is over
    reads them still: say it again then, and sweep, since the files go with the rows.
    """
    LongWork.objects.filter(state__in=LongWork.ENDED).delete()
    LongWork.objects.filter(state=LongWork.State.AT_WORK, cancel_asked_at=None).update(
        cancel_asked_at=now(), cancel_asked_by=by)


def works_for(person: Person) -> QuerySet[LongWork]:
    """Return the work that somebody may see, the newest first."""
    kinds = [kind.name for kind in kinds_for(person)]
    return LongWork.objects.filter(kind__in=kinds).select_related("asked_by", "cancel_asked_by")


def worker_at_hand() -> LongWorker | None:
    """Return a worker whose heart beats, or None: what is asked for waits then."""
    return LongWorker.objects.filter(seen_at__gte=now() - STOPPED_AFTER).order_by("-seen_at").first()
