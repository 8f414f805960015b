"""Clocks of what open runs had mixed before anybody knew that it is ammoniacal silver: they start with the mixing."""

from __future__ import annotations

from datetime import UTC, datetime
from uuid import UUID

from django.db.models import Prefetch

from jobs.models import Run, RunEntry
from jobs.work.clock import clocks_of, start_of_meeting, start_of_mix
from jobs.work.entries import Entries
from jobs.work.known_now import known_now
from jobs.work.pane_meetings import is_ammoniacal, meetings_of
from jobs.work.ticket_plan import TicketPlan, is_of
from jobs.work.ticketing import plan_of
from recipes.clocks import keeper, till_now
from recipes.solutions.putting_in_use import solution_keys_with
from studio.house.models import Person
from studio.kit.asking import among
from studio.stockroom.models import Lot, Material

Kind = RunEntry.Kind
_When = tuple[datetime, UUID]
_EVER = datetime.min.replace(tzinfo=UTC)


def start_clocks_of_runs(material: Material, by: Person | None) -> None:
    """Start the clock of each recorded mix, and of stocks that were sprayed, in every run that did not end.

    Of a cancelled job too. A run's plain record of having made safe names no mix, so it stops none of these.
    """
    who, keys = keeper(by), solution_keys_with(material)
    if who is None or not keys:
        return
    entries = RunEntry.objects.filter(kind__in=[Kind.MIXED, Kind.SPRAYED, Kind.PANE, Kind.UNDONE]).order_by("pk")
    open_now = Run.objects.filter(finished_at=None).order_by("pk")
    # locked: what is being recorded meanwhile is seen here, or sees what is known now
    runs = open_now.select_for_update(of=("self",)).select_related("ticket__job__quote").prefetch_related(
        Prefetch("entries", entries))
    for run in runs:
        plan = plan_of(run.ticket)
        if keys & {mix.solution_key for mix in plan.mixes}:
            _start(run, known_now(plan), who)


def _start(run: Run, plan: TicketPlan, by: Person) -> None:
    entries = list(run.entries.all())
    counting = Entries(entries)
    clocks = list(clocks_of(run).select_related("made_safe"))
    standing = {clock.subject for clock in clocks if clock.made_safe is None}
    safe_at = {clock.subject: clock.made_safe.done_at for clock in clocks if clock.made_safe is not None}
    mixed: dict[str, _When] = {}
    for mix in plan.mixes:
        for subject in (mix.key, *counting.makings(mix.key)):
            since = _mixed_since(counting.all_of(Kind.MIXED, subject))
            if since is None:
                continue
            mixed.setdefault(mix.key, since)
            if is_ammoniacal(mix) and subject not in standing and since[0] > safe_at.get(subject, _EVER):
                start_of_mix(run=run, plan=plan, subject=subject, by=by, client_key=since[1],
                             done_at=till_now(since[0]))
    started = standing | safe_at.keys()
    judged = {entry.subject: entry.client_key for entry in entries if entry.kind == Kind.PANE}
    for meeting in (meeting for meeting in meetings_of(plan) if meeting.key not in started):
        stocks = [mixed.get(mix.key) for mix in plan.mixes if mix.load is None or (mix.serves(meeting.load)
                  and any(is_of(part, mix) for part in meeting.stocks))]
        pane = next((judged[label] for label in meeting.panes if label in judged), None)
        if pane is not None and stocks and None not in stocks:  # a pane that is judged was sprayed: the run asks when
            start_of_meeting(run=run, meeting=meeting, by=by, client_key=pane,
                             done_at=till_now(max(since[0] for since in stocks if since is not None)))


def _mixed_since(entries: list[RunEntry]) -> _When | None:
    """Return when a mix was first recorded as there, and by which entry; None where the newest says it is not.

    What was taken of a lot mixed ahead stands since that was mixed.
    """
    if not entries or not (entries[-1].content["made"] or entries[-1].content.get("lot")):
        return None
    lots = {lot.pk: lot.made_at for lot in among(
        Lot.objects.all(), "pk", [entry.content["lot"] for entry in entries if entry.content.get("lot")])}
    there = [entry for entry in entries if entry.content["made"] or entry.content.get("lot")]
    return min((lots.get(entry.content.get("lot")) or entry.device_at or entry.at, entry.client_key) for entry in there)
