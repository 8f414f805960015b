"""Two jobs' loads of the same finish version in one mix: what it saves, tried before it is offered, and taken back.

Never done silently: a pair is shared once the owner accepts it, until one of the two is mixed. Both are one solution at
one strength in the same step, together one vesselful; how long it keeps and until when it is made safe, the plan's own
rules see to. The job whose load comes first makes it; the tickets of both say so, and each records its own share.
What neither mixed yet is withdrawn, with why, once a job of the two is cancelled, changed, or moved away.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from fractions import Fraction
from uuid import UUID

from django.db import transaction

from jobs.calendar.asked import CalendarAsked, day_of
from jobs.calendar.effort import AT_ONCE
from jobs.calendar.planned import Answer
from jobs.models import Job, SharedMix
from jobs.week.gather import Gathered, gather, job_number, job_of, names_of, shared_pairs
from jobs.week.kept import Standing, answered, standing_plan, try_out
from jobs.week.pairs import Pair, pair_of, saving_in_words, shared_in
from jobs.week.why import day_in_words
from jobs.work.shared_mixes import begun, mixed_at, why_over, withdraw
from studio.exact import STOCK_DECIMALS
from studio.house.clock import now
from studio.kit.errors import DaybookError
from studio.kit.locks import one_by_one
from studio.kit.rounding import as_decimal
from studio.kit.typed_numbers import whole_number

#: so many pairs are tried for the page, those first whose mixings stand nearest to each other
MOST_TRIED = 8
#: what was agreed is listed for so long
LATELY_DAYS = 60


class CannotShare(DaybookError):
    """Two mixes that cannot be one, or not any more, and why."""


@dataclass(frozen=True, kw_only=True)
class SharingOffer:
    """A pair that was tried: no job is ready later by it. starts_minute: of the mixing, in the plan that was tried.

    makes: the mix, by name, of the job whose load takes of it first; by: whose hands the plan has for it.
    """

    pair: Pair
    starts_minute: int
    standing: Standing
    makes: str
    by: str

    @property
    def in_words(self) -> str:
        day = day_in_words(self.standing.day(self.starts_minute))
        jobs = f"Jobs {job_number(self.pair.one)} and {job_number(self.pair.other)}"
        return f"{jobs} in one mix of {self.pair.called} on {day}: saves {self.pair.saves}."

    @property
    def shares(self) -> list[tuple[int, Fraction, bool]]:
        """Return each job with what of the mix is for it, in mL, and whether its ticket makes it."""
        return [(job_number(name), share, name == self.makes)
                for name, share in zip((self.pair.one, self.pair.other), self.pair.shares, strict=True)]


def sharing_offers() -> list[SharingOffer]:
    """Return the pairs that could be one mix with no job ready later. Nothing is saved."""
    standing = standing_plan()
    gathered, _ = try_out(standing, AT_ONCE)
    starts = {mixing.key: mixing.start_minute for mixing in standing.plan.mixings}
    taken = {name for row in shared_pairs() for name in row}
    known = [name for name in gathered.shareable if name in starts and name not in taken]
    pairs = [pair for at, one in enumerate(known) for other in known[at + 1:] if job_of(one) != job_of(other)
             and (pair := pair_of(one, other, gathered.shareable)) is not None]
    pairs.sort(key=lambda pair: (abs(starts[pair.one] - starts[pair.other]), pair.one, pair.other))
    found: list[SharingOffer] = []
    used: set[str] = set()
    for pair in pairs[:MOST_TRIED]:
        if used & {pair.one, pair.other}:
            continue
        offer = _tried(standing, gathered, pair)
        if offer is not None:
            found.append(offer)
            used |= {pair.one, pair.other}
    return found


def _tried(standing: Standing, gathered: Gathered, pair: Pair) -> SharingOffer | None:
    """Plan with a pair as one mix; None where they come to no common mixing, or a job is ready later."""
    asked = shared_in(gathered.asked, [pair])
    answer = answered(replace(gathered, asked=asked), standing, AT_ONCE)
    if answer is None or len(answer.plan.refused) > len(standing.plan.refused) or _later(standing, asked, answer):
        return None
    common = next((mixing for mixing in answer.plan.mixings if mixing.key == pair.one and len(
        {job_of(name) for name in mixing.stretches}) > 1), None)
    if common is None:
        return None
    users = sorted(common.stretches, key=lambda name: answer.plan.stretches[name].start_minute)
    makes = pair.one if job_of(users[0]) == job_of(pair.one) else pair.other
    return SharingOffer(
        pair=pair, starts_minute=common.start_minute, standing=standing, makes=makes, by=" and ".join(common.people))


def _later(standing: Standing, asked: CalendarAsked, answer: Answer) -> bool:
    days = (asked.first_day - standing.first_day).days
    return any(
        name not in answer.plan.jobs or day_of(answer.plan.jobs[name].finish_minute) + days > day_of(was.finish_minute)
        for name, was in standing.plan.jobs.items())


def accept(one: str, other: str, key: UUID) -> SharedMix:
    """Let two mixes be one. Sent twice it counts once. Raises CannotShare where they cannot be, or not any more."""
    known = SharedMix.objects.filter(key=key).first()
    if known is not None:
        return known
    standing = standing_plan()
    with transaction.atomic():
        one_by_one("plan of the week")
        gathered, _ = try_out(standing, AT_ONCE)
        pair = pair_of(one, other, gathered.shareable)
        if pair is None or job_of(one) == job_of(other):
            raise CannotShare("These two are not mixes of one solution any more that are still to make.")
        if {one, other} & {name for row in shared_pairs() for name in row}:
            raise CannotShare("One of these two is shared already: take that back first.")
        offer = _tried(standing, gathered, pair)
        if offer is None:
            raise CannotShare("In one mix, a job would be ready later now: the plan changed since it was offered.")
        return _agreed(key, offer, gathered)


def _agreed(key: UUID, offer: SharingOffer, gathered: Gathered) -> SharedMix:
    """Save a pair as it was tried: the job whose load comes first makes it."""
    pair, makes = offer.pair, offer.makes
    takes = pair.other if makes == pair.one else pair.one
    jobs = {job.number: job for job in Job.objects.filter(number__in=[job_number(makes), job_number(takes)])}
    share = as_decimal(dict(zip((pair.one, pair.other), pair.shares, strict=True))[makes], STOCK_DECIMALS)
    volume = as_decimal(pair.volume_ml, STOCK_DECIMALS)
    first, second = jobs[job_number(makes)], jobs[job_number(takes)]
    assert first.quote is not None  # a constraint keeps it of what is booked
    assert second.quote is not None
    return SharedMix.objects.create(
        key=key, job=first, quote=first.quote, mix=_number(makes), load=gathered.shareable[makes].mix.load or 1,
        share_ml=share, other_job=second, other_quote=second.quote, other_mix=_number(takes),
        other_load=gathered.shareable[takes].mix.load or 1, other_share_ml=volume - share, called=pair.called,
        volume_ml=volume, minutes_saved=as_decimal(pair.minutes_saved, STOCK_DECIMALS),
        ml_saved=as_decimal(pair.ml_saved, STOCK_DECIMALS),
        silver_saved_g=as_decimal(pair.silver_saved_g, STOCK_DECIMALS), agreed_at=now(),
    )


@transaction.atomic
def take_back(pk: int) -> bool:
    """Let two mixes be two again, any time before they are mixed. Raises CannotShare after that."""
    one_by_one("plan of the week")
    row = SharedMix.objects.agreed().filter(pk=pk).first()
    if row is None:
        return False
    # nothing is recorded meanwhile: what is recorded at a bench locks its job
    list(Job.objects.select_for_update().filter(pk__in=[row.job_id, row.other_job_id]).order_by("pk"))
    if begun([row]):
        raise CannotShare("One of the two is mixed already: there is nothing to take back any more.")
    withdraw(row, "taken back by the owner")
    return True


def _number(name: str) -> int:
    return whole_number(name.rpartition(".m")[2])


@dataclass(frozen=True, kw_only=True)
class Agreed:
    """What two jobs share, as it stands: open to be taken back, mixed, or over with the reason."""

    row: SharedMix
    is_open: bool
    made_at: datetime | None
    taken_at: datetime | None

    @property
    def saved(self) -> str:
        return saving_in_words(
            Fraction(self.row.minutes_saved), Fraction(self.row.ml_saved), Fraction(self.row.silver_saved_g))

    @property
    def over_because(self) -> str:
        return why_over(self.row) if self.made_at is None else ""


def agreed_lately() -> list[Agreed]:
    """Return what is shared, the newest first: what is still to mix, and of the last weeks what was, or fell away."""
    shareable = gather(standing_plan().places).shareable
    lately = now() - timedelta(days=LATELY_DAYS)
    rows = list(SharedMix.objects.filter(agreed_at__gte=lately).select_related("job", "other_job").order_by("-pk"))
    times, in_a_jug = (mixed_at(rows), begun(rows)) if rows else ({}, set())
    return [Agreed(row=row, made_at=times[row.pk][0], taken_at=times[row.pk][1],
                   is_open=not why_over(row) and row.pk not in in_a_jug
                   and pair_of(*names_of(row), shareable) is not None) for row in rows]
