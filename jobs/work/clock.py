"""The clocks of ammoniacal silver on the bench: of runs; and, as everybody is told, of trials and lots."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from uuid import NAMESPACE_URL, UUID, uuid5

from django.db.models import QuerySet
from django.urls import reverse

from jobs.models import Job, Run, RunClock, SharedMix
from jobs.work.entries import making_number, mix_key
from jobs.work.pane_meetings import Meeting, is_ammoniacal, meetings_of
from jobs.work.shared_mixes import batch_key, mix_number, recorded_one_by_one, since_when
from jobs.work.ticket_plan import TicketMix, TicketPlan
from jobs.work.ticketing import plan_of
from recipes.clocks import Standing, standing, start_clock
from recipes.models import SilverClock
from studio.house.frame import Alarm
from studio.house.models import House, Person
from studio.stockroom.hazards.standing import MIXED, PAST_ITS_LIMIT, SPRAYED


def open_clocks() -> QuerySet[SilverClock]:
    """Return every clock that runs, with the run, trial or lot it is of. One query, of every page: no plan is read."""
    running = SilverClock.objects.filter(made_safe=None)
    return running.select_related("trial", "lot__material", "of_run__run__ticket__job").defer(
        "of_run__run__ticket__plan")


def clocks_of(run: Run) -> QuerySet[SilverClock]:
    return SilverClock.objects.filter(of_run__run=run)


def standing_now(house: House, rows: Iterable[SilverClock] | None = None) -> list[Standing]:
    """Return all that stands anywhere, or the clocks given, each with its run, trial or lot; the longest first."""
    return [_placed(found) for found in standing(open_clocks() if rows is None else rows, house)]


def standing_of_job(job: Job, house: House) -> list[Standing]:
    return standing_now(house, open_clocks().filter(of_run__run__ticket__job=job))


def _placed(found: Standing) -> Standing:
    trial = found.row.trial
    if trial is not None:
        return replace(found, where=str(trial), address=reverse("recipes:trial", args=[trial.number]) + "#made-safe")
    lot = found.row.lot
    if lot is not None:
        return replace(found, where=f"lot {lot.lot_number}", address=reverse("recipes:lot_made_safe", args=[lot.pk]))
    run = found.row.of_run.run
    job = run.ticket.job
    return replace(found, where=f"{run.ticket}{', cancelled' if job.is_cancelled else ''}",
                   address=reverse("jobs:run", args=[run.pk]) + "#made-safe")


def alarms(house: House) -> list[Alarm]:
    """Return what stands past its limit, for every page, and what will. One query, and the studio where one stands."""
    return [
        Alarm(sentence=f"{found.row.what} is ammoniacal silver past its limit. {PAST_ITS_LIMIT}",
              where=found.where, address=found.address, minutes=found.clock.minutes, since=found.row.started_at,
              starts=found.clock.alarm_from, waits=not found.clock.alarms)
        for found in standing_now(house)
    ]


def start_of_mix(
    *, run: Run, plan: TicketPlan, subject: str, by: Person, client_key: UUID, done_at: datetime | None,
) -> None:
    """Start the clock of a mix that was recorded as mixed, where it is ammoniacal silver.

    A share of what another job's ticket made stands since that was mixed, whichever of the two is recorded first.
    """
    mix = next((mix for mix in plan.mixes if mix.key == mix_key(subject)), None)
    if mix is not None and is_ammoniacal(mix):
        first = making_number(subject) == 1
        made_at = since_when(run, mix) if first else None
        if made_at is not None:
            done_at = min(done_at or made_at, made_at)
        _start(run, subject, _name(mix, making_number(subject)), MIXED, by, client_key, done_at)
        if first:
            _set_back_what_was_taken(run, mix)


def _set_back_what_was_taken(run: Run, mix: TicketMix) -> None:
    """Set the running clock of a share that was recorded before its mix back to when that was mixed."""
    taken = _taken_of(run, mix)
    clock = clocks_of(run).filter(subject=mix.key).order_by("-pk").first() if taken else None
    if clock is None:
        return
    for other, subject in taken:
        later = clocks_of(other).filter(subject=subject, made_safe=None, started_at__gt=clock.started_at)
        later.update(started_at=clock.started_at)


def _taken_of(run: Run, mix: TicketMix) -> list[tuple[Run, str]]:
    """Return the open runs whose ticket says that a mix of this run's job is made for them too, each with its key."""
    if run.is_further:
        return []
    recorded_one_by_one()
    rows = SharedMix.objects.filter(job=run.ticket.job_id, mix=mix_number(mix.key)).select_related("job")
    keys = {row.other_job_id: (row.job.number, batch_key(row.other_mix)) for row in rows}
    runs = Run.objects.open().filter(ticket__job__in=keys).select_related("ticket__job__quote") if keys else ()
    found = []
    for other in runs:
        number, key = keys[other.ticket.job_id]
        if any(each.key == key and each.together is not None and not each.together.makes
               and each.together.other_job == number for each in plan_of(other.ticket).mixes):
            found.append((other, key))
    return found


def _name(mix: TicketMix, making: int) -> str:
    where = f"pane {mix.pane}" if mix.pane else f"load {mix.load}" if mix.load else ""
    if len(mix.shared_ml) > 1:
        where = f"loads {', '.join(str(load) for load in sorted(mix.shared_ml))}"
    batch = f"batch {mix.batch}" if mix.batches > 1 else ""
    again = f"making {making}" if making > 1 else ""
    return ", ".join(filter(None, [mix.solution, where, batch, again]))


def start_of_spraying(
    *, run: Run, plan: TicketPlan, subject: str, by: Person, client_key: UUID, done_at: datetime | None,
) -> None:
    """Start the clock of stocks that met on the panes of a load."""
    meeting = next((meeting for meeting in meetings_of(plan) if meeting.key == subject), None)
    if meeting is not None:
        start_of_meeting(run=run, meeting=meeting, by=by, client_key=client_key, done_at=done_at)


def start_of_meeting(
    *, run: Run, meeting: Meeting, by: Person, client_key: UUID, done_at: datetime | None,
) -> None:
    _start(run, meeting.key, meeting.what, SPRAYED, by, client_key, done_at)


def _start(
    run: Run, subject: str, what: str, began: str, by: Person, client_key: UUID, done_at: datetime | None,
) -> None:
    earlier = clocks_of(run).filter(subject=subject).select_related("made_safe").order_by("-pk").first()
    clock = start_clock(key=uuid5(NAMESPACE_URL, f"silvering-daybook:clock:{client_key}"), by=by, subject=subject,
                        what=what, began=began, done_at=done_at, earlier=earlier)
    if clock is not None:
        RunClock.objects.get_or_create(clock=clock, defaults={"run": run})
