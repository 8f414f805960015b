"""Samples and the go-ahead: which finishes of a job wait for the customer's word, and what lets its ticket be printed.

A sample is of one finish as a version has it: a revision that takes another finish, or another version of one, asks
again for that alone; what was approved stays approved. A ticket waits for every sample and for the deposit, or for a
reason by somebody who may overrule. The database refuses a ticket without its samples as well.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import NAMESPACE_URL, UUID, uuid5

from django.db import transaction

from jobs import acts
from jobs.models import Job, JobAct, Quote, SampleApproval, WentAhead
from jobs.work import states
from recipes.models import RecipeVersion
from studio.house.clock import now, today
from studio.house.models import Person
from studio.kit.errors import DaybookError
from studio.kit.locks import check_opened, differing, tried_three_times
from studio.kit.roles import May

How = SampleApproval.How
#: what of a sample is written beside the customer's word
PARTICULARS = ("trial", "fee", "sent_on", "kept_where", "half_with", "variation", "front", "back")


class SampleError(DaybookError):
    """A sample cannot be kept or approved like that."""


class NotYet(DaybookError):
    """A ticket waits for a sample or the deposit."""


@dataclass(frozen=True, kw_only=True)
class Lacking:
    """What a job's ticket waits for: the samples of finishes, and the deposit."""

    finishes: Sequence[RecipeVersion] = ()
    deposit: bool = False

    def __bool__(self) -> bool:
        return bool(self.finishes) or self.deposit

    @property
    def in_words(self) -> str:
        """Return it as it stands after “waits for”: “the samples of Smoke Veil and Ridge Water, and the deposit”."""
        names = [version.finish.name for version in self.finishes]
        listed = " and ".join(filter(None, [", ".join(names[:-1]), *names[-1:]]))
        sample = [f"the sample{'' if len(names) == 1 else 's'} of {listed}"] if names else []
        return (", and " if len(names) > 1 else " and ").join([*sample, *(["the deposit"] if self.deposit else [])])


def finishes_of(job: Job) -> list[RecipeVersion]:
    """Return the finishes of a job's order as it stands, each once, in the order of its lines. One query."""
    lines = job.order.lines.select_related("recipe_version__finish").order_by("number")
    return list({line.recipe_version_id: line.recipe_version for line in lines}.values())


def awaited(job: Job) -> list[RecipeVersion]:
    """Return the finishes of a job whose samples are not approved. Two queries."""
    approved = set(job.samples.standing().exclude(approved_at=None).values_list("recipe_version_id", flat=True))
    return [version for version in finishes_of(job) if version.pk not in approved]


@dataclass(frozen=True, kw_only=True)
class Standing:
    """How the sample of one finish stands."""

    version: RecipeVersion
    row: SampleApproval | None
    without: WentAhead | None

    @property
    def in_words(self) -> str:
        if self.row is not None and self.row.is_approved:
            on = f" on {self.row.approved_on:%-d %b %Y}" if self.row.approved_on else ""
            return f"approved{on}, {self.row.get_how_display()}"
        said = "not approved; goes ahead without" if self.without else "not approved yet"
        sent = self.row.sent_on if self.row is not None else None
        return f"sent {sent:%-d %b %Y}, {said}" if sent else said

    @property
    def tone(self) -> str:
        return "good" if self.row is not None and self.row.is_approved else "" if self.without else "attention"


def how_samples_stand(job: Job, ahead: Sequence[WentAhead]) -> list[Standing]:
    """Return each finish of a job with its sample. ahead: what its ticket goes ahead without. Two queries."""
    rows = {row.recipe_version_id: row for row in job.samples.standing()}
    without = {row.recipe_version_id: row for row in ahead}
    return [Standing(version=version, row=rows.get(version.pk), without=without.get(version.pk))
            for version in finishes_of(job)]


def lacking(job: Job) -> Lacking:
    """Return what a job's ticket waits for: neither in, nor gone ahead without since it was booked."""
    let_go = set(_said_since_booking(job).values_list("recipe_version_id", flat=True))
    waits = [version for version in awaited(job) if version.pk not in let_go]
    quote = job.quote or job.quote_that_counts
    no_deposit = (quote is not None and quote.deposit > 0 and not job.deposit_noted
                  and not acts.deposit_is_in(job, quote))
    return Lacking(finishes=waits, deposit=no_deposit and None not in let_go)


def _said_since_booking(job: Job) -> Any:
    rows = WentAhead.objects.filter(job=job)
    return rows.filter(at__gte=job.booked_at) if job.booked_at else rows.none()


def went_ahead_with(job: Job) -> list[WentAhead]:
    """Return what the ticket of a job goes ahead without, with why and by whose word. One query."""
    return list(_said_since_booking(job).select_related("by", "recipe_version__finish"))


def check_go_ahead(job: Job) -> None:
    """Refuse a ticket before its samples and deposit are in. job: locked. Raises NotYet."""
    lacks = lacking(job)
    if lacks:
        raise NotYet(f"The ticket waits for {lacks.in_words}: record that it came, or let somebody who may overrule "
                     "say why it goes ahead.")


def check_samples(job: Job) -> None:
    """Refuse a further ticket while a sample of its job waits again: one is undone of a job that was begun. NotYet."""
    waits = Lacking(finishes=lacking(job).finishes)
    if waits:
        raise NotYet(f"The ticket waits for {waits.in_words}, whose approval was undone: record it again.")


@tried_three_times
@transaction.atomic
def let_go_ahead(*, job: Job, by: Person, because: str, key: UUID) -> list[WentAhead]:
    """Let the ticket of a booked job be printed without what it waits for. A form's key counts once.

    Raises NotYet without a reason, for somebody who may not overrule, or where nothing is waited for.
    """
    job = Job.objects.select_for_update().get(pk=job.pk)
    known = [row for row in WentAhead.objects.filter(job=job) if row.key in _keys(job, key)]
    if known:
        return known
    states.check(job.state, states.TICKET, NotYet)
    check_may_overrule(by)
    lacks = lacking(job)
    if not lacks:
        raise NotYet("The ticket waits for nothing: print it.")
    if not because.strip():
        raise NotYet("Say why it goes ahead: that stays with the job.", "because")
    rows = go_ahead_without(job, lacks, because, by, key)
    job.waived_because, job.saves = because.strip(), job.saves + 1
    job.save(update_fields=["waived_because", "saves"])
    return rows


def check_may_overrule(by: Person) -> None:
    """Refuse a go-ahead by somebody who may not give it. Raises NotYet."""
    if not by.may(May.OVERRULE):
        raise NotYet("Only the owner lets a job go ahead without its sample or deposit.", "waived_because")


def go_ahead_without(job: Job, lacks: Lacking, because: str, by: Person | None, key: UUID | None = None,
                     ) -> list[WentAhead]:
    """Write what a locked job goes ahead without, a row for each thing. key: of a form, else made of the job's own."""
    key = key or uuid5(NAMESPACE_URL, f"silvering-daybook:went-ahead:{job.number}:{job.went_ahead.count() + 1}")
    without: list[RecipeVersion | None] = [*lacks.finishes, *([None] if lacks.deposit else [])]
    return [WentAhead.objects.create(key=_key(key, version.pk if version else 0), job=job, recipe_version=version,
                                     because=because.strip(), at=now(), by=by) for version in without]


def _key_of_next(job: Job) -> UUID:
    """Return the key of a locked job's next sample: the same in whatever database it is lived through."""
    return uuid5(NAMESPACE_URL, f"silvering-daybook:sample:{job.number}:{job.samples.count() + 1}")


def _key(key: UUID, finish: int) -> UUID:
    return uuid5(key, f"without {finish}")


def _keys(job: Job, key: UUID) -> set[UUID]:
    return {_key(key, finish) for finish in (0, *(version.pk for version in finishes_of(job)))}


@tried_three_times
@transaction.atomic
def keep_sample(
    *, job: Job, recipe_version: RecipeVersion, values: Mapping[str, Any], saves: int | None = None,
) -> SampleApproval:
    """Keep what is known of the sample of one finish of a job: values of PARTICULARS.

    saves: what the form was opened with, 0 where there was none yet. Raises SampleError for a finish that is not the
    job's or one that is approved already, ChangedMeanwhile.
    """
    job = Job.objects.select_for_update().get(pk=job.pk)
    states.check(job.state, states.CAME_IN, SampleError)
    row = job.samples.standing().filter(recipe_version=recipe_version).first()
    if row is None:
        if recipe_version.pk not in {version.pk for version in finishes_of(job)}:
            raise SampleError(f"{recipe_version} is no finish of {job}.")
        row = SampleApproval(key=_key_of_next(job), job=job, recipe_version=recipe_version, asked_at=now(), saves=0)
    if row.is_approved:
        raise SampleError(f"{row} is approved: undo the approval first, in the job's story.")
    check_opened(row, saves, differing(row, values))
    for name in PARTICULARS:
        if name in values:
            setattr(row, name, values[name])
    row.quote = job.quote or job.quote_that_counts
    _check(row)
    row.full_clean(exclude=["key"])
    row.save()
    return row


def _check(row: SampleApproval) -> None:
    """Refuse a sample of another finish than its trial's, and photographs of another pane. Raises SampleError."""
    if row.trial is not None and row.trial.recipe_version.finish_id != row.recipe_version.finish_id:
        raise SampleError(f"{row.trial} is of {row.trial.recipe_version.finish}: choose one of "
                          f"{row.recipe_version.finish}.", "trial")
    mine = set() if row.trial is None else set(row.trial.photographs.values_list("print_copy", flat=True))
    for name in ("front", "back"):
        chosen = getattr(row, f"{name}_id")
        if chosen is not None and chosen not in mine:
            raise SampleError("Choose a photograph of the trial that the sample is from.", name)


@tried_three_times
@transaction.atomic
def approve(
    sample: SampleApproval, name: str, how: str, *, by: Person | None = None, on: date | None = None,
    key: UUID | None = None, variation: str = "",
) -> SampleApproval:
    """Record that a customer approved a sample: name, of who did; how, of SampleApproval.How; on, the day, or today.

    by: who records it, nobody where the customer did so on a page of their own. variation: what was agreed in words,
    in place of what stood. key: of the form, which counts once. Raises SampleError.
    """
    job = Job.objects.select_for_update().get(pk=sample.job_id)
    sample = SampleApproval.objects.select_for_update(of=("self",)).select_related("recipe_version__finish").get(
        pk=sample.pk)
    known = acts.known(key)
    if known is not None:
        return sample
    states.check(job.state, states.CAME_IN, SampleError)
    if sample.withdrawn_at is not None:
        raise SampleError("This sample was taken back: look at the newest one.")
    if sample.approved_at is not None:
        raise SampleError(f"{sample} was approved already.")
    if not name.strip():
        raise SampleError("Say who approved it.", "name")
    if how not in How.values or how == How.TICKED:
        raise SampleError("Say how it was approved.", "how")
    if on is not None and on > today():
        raise SampleError("That day is still to come.", "on")
    said = f"{sample.recipe_version}: {name.strip()}, {How(how).label}"
    act = acts.record(job, JobAct.Kind.SAMPLE, by, on=on, note=said, key=key)
    sample.approved_on, sample.approved_by, sample.how = on or today(), name.strip()[:120], how
    sample.approved_at, sample.act, sample.saves = now(), act, sample.saves + 1
    sample.variation = variation.strip() or sample.variation
    sample.save()
    as_they_stand(job)
    return sample


def tick(job: Job, act: JobAct) -> None:
    """Let an act that says “the sample is approved”, and no more, count for every finish that waits. job: locked."""
    rows = {row.recipe_version_id: row for row in job.samples.standing()}
    for version in awaited(job):
        row = rows.get(version.pk) or SampleApproval(key=_key_of_next(job), job=job, recipe_version=version,
                                                     asked_at=now())
        row.how, row.approved_at, row.act, row.approved_on = How.TICKED, now(), act, act.on
        row.approved_by = act.note[:120]
        row.quote = row.quote or job.quote or job.quote_that_counts
        row.save()


def take_back(job: Job, act: JobAct) -> None:
    """Let an undone act of approval not count any more: its samples wait again, with their particulars. job: locked."""
    for row in job.samples.standing().filter(act=act):
        SampleApproval.objects.filter(pk=row.pk).update(withdrawn_at=now())
        SampleApproval.objects.create(
            key=_key_of_next(job), job=job, recipe_version_id=row.recipe_version_id, quote_id=row.quote_id,
            asked_at=row.asked_at, **{name: getattr(row, name) for name in PARTICULARS})


def as_they_stand(job: Job) -> None:
    """Let a locked job say whether every sample of it is approved, and save that."""
    approved = not awaited(job)
    if job.sample_approved != approved:
        job.sample_approved, job.saves = approved, job.saves + 1
        job.save(update_fields=["sample_approved", "saves"])


def asked_of(quote: Quote) -> list[SampleApproval]:
    """Return the samples that stand of the finishes of a quote's job, in the order of its lines. Three queries."""
    job = Job.objects.select_related("order").get(order=quote.order_id)
    rows = job.samples.standing().select_related("recipe_version__finish", "trial", "front", "back")
    by_finish = {row.recipe_version_id: row for row in rows}
    return [by_finish[version.pk] for version in finishes_of(job) if version.pk in by_finish]
