"""Open tickets that were overtaken since they were printed: a lot they say to take is held, expired or empty, a recipe
of theirs was withdrawn or is in doubt, the order was changed, a mix is shared with another job, or not any more.

A new print takes the lots that stand there today, and says which it replaces. On a ticket of another order nothing is
recorded (see the database rules).
"""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.formats import date_format
from django.utils.timezone import localtime

from jobs.models import Run, WorkTicket
from jobs.work.in_doubt import keys_of, runs_in_doubt
from jobs.work.lots_to_take import not_to_take, shelves_for
from jobs.work.recorded import records_of
from jobs.work.shared_mixes import shared_by, sharing_changed
from recipes.models import VersionEvent
from studio.house.clock import today
from studio.kit.asking import among


def overtaken(runs: Sequence[Run], *, doubts: bool = True) -> list[tuple[Run, list[str]]]:
    """Return the open runs whose tickets were overtaken, each with why: lots for mixes not recorded yet, and recipes.

    runs: with their tickets, jobs and quotes fetched. doubts: those in doubt too. The number of queries is fixed.
    """
    records = records_of(runs)
    waiting = {
        pk: [state for state in record.mixes if state.made is None and state.lot is None]
        for pk, record in records.items()
    }
    shelves, day = shelves_for([state for states in waiting.values() for state in states]), today()
    withdrawn = _withdrawn(runs)
    in_doubt = {run.pk: said for run, said in runs_in_doubt(runs)} if doubts else {}
    shared = shared_by({run.ticket.job_id for run in runs})
    found = []
    for run in runs:
        lots = (why for state in waiting[run.pk] for why in not_to_take(state, shelves, day).values())
        together = [] if run.is_further else sharing_changed(
            records[run.pk].plan, [state.mix.key for state in waiting[run.pk]], shared[run.ticket.job_id])
        said = dict.fromkeys([
            *_order_changed(run), *together, *lots, *withdrawn[run.pk], *in_doubt.get(run.pk, [])])
        if said:
            found.append((run, list(said)))
    return found


def order_changed(run: Run) -> bool:
    """Say whether the order was changed since a run's ticket was printed: nothing is recorded on that one."""
    quote = run.ticket.job.quote
    return quote is not None and quote.made_at > run.ticket.made_at


def _order_changed(run: Run) -> list[str]:
    quote = run.ticket.job.quote
    if quote is None or not order_changed(run):
        return []
    return [f"The order was changed on {date_format(localtime(quote.made_at), 'j M Y, H:i')} ({quote}): print it anew "
            "before anything is mixed."]


def _withdrawn(runs: Sequence[Run]) -> dict[int, list[str]]:
    """Return in sentences which recipes of each run's ticket were withdrawn since it was printed. One query."""
    keys = {run.pk: keys_of(run) for run in runs}
    codes = {key.rpartition("/")[0] for mine in keys.values() for key in mine}
    rows = VersionEvent.objects.filter(kind=VersionEvent.Kind.WITHDRAWN).select_related("recipe_version__finish")
    events = {event.recipe_version.key: event for event in among(rows, "recipe_version__finish__code", codes)}
    return {
        run.pk: [
            f"{events[key].recipe_version} was withdrawn on {date_format(localtime(events[key].at), 'j M Y')}"
            f"{': ' + events[key].note.rstrip('.') if events[key].note else ''}. Ask the owner before you mix for it."
            for key in keys[run.pk] if key in events and events[key].at > run.ticket.made_at
        ]
        for run in runs
    }


def why_overtaken(ticket: WorkTicket) -> list[str]:
    """Return why a ticket is not to be worked from as it was printed, doubts of its recipes apart: another was printed
    in its place, or what it says of lots and recipes no longer holds. Nothing of one whose run is over.
    """
    later = ticket.newest
    if later is not ticket:
        return [f"{later} was printed in its place on {date_format(localtime(later.made_at), 'j M Y, H:i')}: work from "
                "that one."]
    run = ticket.own_run
    return [why for _, said in overtaken([run], doubts=False) for why in said] if run and run.is_open else []
