"""Mixes that two jobs share, as their tickets have them: this job's share, what is weighed for both, who makes it.

What was agreed stands while both jobs are booked or on the bench with the quotes it was agreed for, and neither has
mixed its own. A ticket printed before it was agreed, or before it fell away, is overtaken for what is still to mix.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from fractions import Fraction

from django.db.models import Q

from jobs.estimating.estimate import Estimate
from jobs.estimating.mixes import Batch, Mix
from jobs.models import Run, RunEntry, SharedMix
from jobs.work import states
from jobs.work.entries import Entries, done_at, in_the_mix
from jobs.work.ticket_plan import TicketMix, TicketPlan
from jobs.work.together import ForBoth, Together
from recipes.chemistry.mixing import as_tools_read, hard_in_mix
from recipes.models import SilverClock
from studio.house.clock import now
from studio.kit.asking import among
from studio.kit.locks import one_by_one
from studio.kit.rounding import as_decimal
from studio.kit.typed_numbers import whole_number

Kind = RunEntry.Kind
_STANDS = (states.BOOKED, states.ON_THE_BENCH)


def batch_key(mix: int) -> str:
    """Return what the one batch of a mix is recorded under."""
    return f"m{mix}b1"


def why_over(row: SharedMix) -> str:
    """Return why two jobs do not share a mix any more; nothing while they do. row: with both jobs fetched."""
    if row.withdrawn_at is not None:
        return row.withdrawn_because
    for job, quote in ((row.job, row.quote_id), (row.other_job, row.other_quote_id)):
        if job.state not in _STANDS:
            return f"job {job.number} is {job.get_state_display()}"
        if job.quote_id != quote:
            return f"the order of job {job.number} was changed"
    return ""


def is_for_the_taker(row: SharedMix, made_at: datetime | None) -> bool:
    """Say whether the other job takes its share: while both share it, and of what was mixed whatever the maker became.
    """
    return not why_over(row) or (
        made_at is not None and row.withdrawn_at is None and row.other_job.state in _STANDS
        and row.other_job.quote_id == row.other_quote_id)


def shared_by(jobs: Collection[int]) -> dict[int, dict[str, Together]]:
    """Return what jobs, by id, share with another job: by the key of the batch on their ticket. Two queries at most."""
    found: dict[int, dict[str, Together]] = {job: {} for job in jobs}
    rows = list(SharedMix.objects.agreed().filter(Q(job__in=jobs) | Q(other_job__in=jobs)))
    over = [row for row in rows if why_over(row)]
    made = mixed_at(over) if over else {}
    for row in rows:
        if not is_for_the_taker(row, made.get(row.pk, (None, None))[0]):
            continue
        one = Together(
            job=row.job.number, load=row.load, share_ml=Fraction(row.share_ml), other_job=row.other_job.number,
            other_load=row.other_load, other_share_ml=Fraction(row.other_share_ml), makes=True)
        other = Together(
            job=row.other_job.number, load=row.other_load, share_ml=Fraction(row.other_share_ml),
            other_job=row.job.number, other_load=row.load, other_share_ml=Fraction(row.share_ml), makes=False)
        for job, mix, together in ((row.job_id, row.mix, one), (row.other_job_id, row.other_mix, other)):
            if job in found:
                found[job][batch_key(mix)] = together
    return found


def with_shares(estimate: Estimate, shared: Mapping[str, Together]) -> Estimate:
    """Return an estimate whose shared mixes are made at this job's share of them: what is on its ticket."""
    if not shared:
        return estimate
    return replace(estimate, mixes=tuple(
        _at_its_share(mix, shared[batch_key(mix.number)]) if _is_shared(mix, shared) else mix
        for mix in estimate.mixes
    ))


def _is_shared(mix: Mix, shared: Mapping[str, Together]) -> bool:
    return batch_key(mix.number) in shared and len(mix.batches) == 1 and mix.made_ml > 0


def _at_its_share(mix: Mix, together: Together) -> Mix:
    batch = mix.batches[0]
    return replace(mix, batches=(_scaled(batch, together.share_ml),))


def _scaled(batch: Batch, volume_ml: Fraction) -> Batch:
    by = volume_ml / batch.volume_ml
    return replace(batch, volume_ml=volume_ml, ingredients=tuple(
        replace(measured, amount=measured.amount * by) for measured in batch.ingredients))


def told_together(plan: TicketPlan, estimate: Estimate, shared: Mapping[str, Together]) -> TicketPlan:
    """Return a ticket's plan whose shared mixes say with which job, and what is weighed for both.

    estimate: as it was frozen, from which plan was made at this job's share.
    """
    if not shared:
        return plan
    whole = {batch_key(mix.number): mix for mix in estimate.mixes if _is_shared(mix, shared)}
    readability_g = estimate.basis.house.balance_readability_g
    return replace(plan, mixes=[
        _told(mix, whole[mix.key], shared[mix.key], readability_g) if mix.key in whole else mix for mix in plan.mixes
    ])


def _told(mix: TicketMix, whole: Mix, together: Together, readability_g: Fraction) -> TicketMix:
    """Return a mix of a ticket with its other job. What is hard to weigh is looked at as it is weighed: for both."""
    batch = _scaled(whole.batches[0], together.volume_ml)
    rows = [ForBoth(
        number=measured.ingredient.number, name=measured.name, unit=measured.unit,
        amount=as_decimal(as_tools_read(measured.amount, measured.unit, readability_g), 3),
        make_up=measured.ingredient.make_up, hard=hard_in_mix(measured, batch.volume_ml, readability_g),
    ) for measured in batch.ingredients]
    return replace(mix, together=replace(together, rows=rows if together.makes else []),
                   ingredients=[replace(row, hard=None) for row in mix.ingredients])


def sharing_changed(plan: TicketPlan, waiting: Iterable[str], shared: Mapping[str, Together]) -> list[str]:
    """Return in sentences what a printed ticket says otherwise than agreed of mixes that wait to be recorded."""
    said = []
    open_keys = set(waiting)
    for mix in plan.mixes:
        was, is_now = mix.together, shared.get(mix.key)
        if mix.key not in open_keys or (was and replace(was, rows=[])) == is_now:
            continue
        if is_now is not None:
            said.append(f"{mix.solution} is made in one mix with job {is_now.other_job} by now: print it anew.")
        elif was is not None:
            said.append(f"{mix.solution} is not shared with job {was.other_job} any more: print it anew before it is "
                        "mixed.")
    return said


def mixed_at(rows: Sequence[SharedMix]) -> dict[int, tuple[datetime | None, datetime | None]]:
    """Return, by id, when the maker recorded a shared mix as mixed, and when the other job took its share; or None."""
    mine = _recorded(rows, [Kind.MIXED])
    return {row.pk: (_first(mine.get(row.job_id, {}), row.mix), _first(mine.get(row.other_job_id, {}), row.other_mix))
            for row in rows}


def begun(rows: Sequence[SharedMix]) -> set[int]:
    """Return the ids of shared mixes that one of the two has in a jug: mixed, taken of a lot, or ticked as put in."""
    mine = _recorded(rows, [Kind.MIXED, Kind.ADDED])
    return {row.pk for row in rows if any(
        _in_a_jug(Entries(entries), batch_key(number))
        for job, number in ((row.job_id, row.mix), (row.other_job_id, row.other_mix))
        for entries in mine.get(job, {}).values())}


def _in_a_jug(entries: Entries, subject: str) -> bool:
    newest = entries.newest(Kind.MIXED, subject)
    if newest is not None:
        return bool(newest.content.get("made") or newest.content.get("lot"))
    return bool(in_the_mix(entries.all_of(Kind.ADDED, subject)))


def _recorded(rows: Sequence[SharedMix], kinds: Sequence[str]) -> dict[int, dict[int, list[RunEntry]]]:
    """Return what is recorded of shared mixes, by job and run, in the order of ids."""
    jobs = {job for row in rows for job in (row.job_id, row.other_job_id)}
    subjects = {batch_key(number) for row in rows for number in (row.mix, row.other_mix)}
    mine: dict[int, dict[int, list[RunEntry]]] = {}
    entries = RunEntry.objects.filter(
        kind__in=[*kinds, Kind.UNDONE], subject__in=subjects).select_related("run__ticket").order_by("pk")
    for entry in among(entries, "run__ticket__job", jobs):
        mine.setdefault(entry.run.ticket.job_id, {}).setdefault(entry.run_id, []).append(entry)
    return mine


def _first(runs: Mapping[int, list[RunEntry]], mix: int) -> datetime | None:
    """Return when a mix was recorded as mixed on a job's first ticket: further tickets number theirs anew."""
    for _, entries in sorted(runs.items()):
        newest = Entries(entries).newest(Kind.MIXED, batch_key(mix))
        return done_at(newest) if newest is not None and newest.content.get("made") else None
    return None


def recorded_one_by_one() -> None:
    """Wait for what is being recorded of any shared mix, so that of maker and taker the later one sees both."""
    one_by_one("shared mixes recorded")


def since_when(run: Run, mix: TicketMix) -> datetime | None:
    """Return since when a mix that another job's ticket made stands; None of a job's own, or one not mixed yet.

    What the taker's ticket says counts, also where the two stopped sharing since. The maker's clock may have begun
    before the record: as ammonia went in, or by one that waits.
    """
    if mix.together is None or mix.together.makes:
        return None
    recorded_one_by_one()
    row = SharedMix.objects.filter(
        job__number=mix.together.other_job, other_job=run.ticket.job_id, other_mix=mix_number(mix.key),
    ).order_by("-pk").first()
    if row is None:
        return None
    clock = SilverClock.objects.filter(
        of_run__run__ticket__job=row.job_id, subject=batch_key(row.mix)).order_by("-pk").first()
    moments = [mixed_at([row])[row.pk][0], clock.started_at if clock else None]
    return min((moment for moment in moments if moment is not None), default=None)


def mix_number(key: str) -> int:
    """Return the number of the mix whose batch is recorded under a key."""
    return whole_number(key.removeprefix("m").partition("b")[0])


def withdraw(row: SharedMix, because: str) -> None:
    """Let two mixes be two again, and keep why."""
    row.withdrawn_at, row.withdrawn_because = now(), because[:200]
    row.save(update_fields=["withdrawn_at", "withdrawn_because"])


def withdraw_what_is_over() -> None:
    """Keep why two jobs stopped sharing what neither mixed, where one of them was cancelled or changed."""
    rows = [row for row in SharedMix.objects.agreed() if why_over(row)]
    made = mixed_at(rows) if rows else {}
    for row in rows:
        if made[row.pk] == (None, None):
            withdraw(row, why_over(row))
