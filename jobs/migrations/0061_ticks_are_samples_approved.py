"""A sample that was ticked as approved is one approved for each finish, without particulars, as ticked before.

Jobs that went ahead for a reason went ahead without what was not in then: what could be printed can be printed still.
"""

from django.db import migrations


def turn_ticks_into_samples(apps, schema_editor):
    Job, JobAct = apps.get_model("jobs", "Job"), apps.get_model("jobs", "JobAct")
    Sample, WentAhead = apps.get_model("jobs", "SampleApproval"), apps.get_model("jobs", "WentAhead")
    for job in Job.objects.select_related("order").order_by("pk").iterator(chunk_size=500):
        lines = job.order.lines.order_by("number").values_list("recipe_version", flat=True)
        finishes = list(dict.fromkeys(lines))
        acts = list(JobAct.objects.filter(job=job, kind="sample").order_by("pk"))
        undone = {act.undoes_id: act.at for act in JobAct.objects.filter(job=job, kind="undone", undoes__in=acts)}
        for act in acts:
            at = act.at or job.booked_at or job.order.entered_at
            if act.pk in undone and undone[act.pk] is None:
                continue  # nobody wrote down when it was undone
            _approve(Sample, job, finishes, at, act, undone.get(act.pk))
        stands = any(act.pk not in undone for act in acts)
        if job.sample_approved and not stands:
            _approve(Sample, job, finishes, job.booked_at or job.order.entered_at, None, None)
        if job.booked_at and job.waived_because:
            booked = JobAct.objects.filter(job=job, kind="booked").order_by("-pk").first()
            for finish in ([] if job.sample_approved else finishes) + ([] if job.deposit_noted else [None]):
                WentAhead.objects.create(job=job, recipe_version_id=finish, because=job.waived_because,
                                         at=job.booked_at, by_id=booked.by_id if booked else None)


def _approve(Sample, job, finishes, at, act, withdrawn_at):
    standing = set(Sample.objects.filter(job=job, withdrawn_at=None).values_list("recipe_version_id", flat=True))
    for finish in finishes:
        if withdrawn_at is None and finish in standing:
            continue
        Sample.objects.create(job=job, recipe_version_id=finish, quote=job.quote, asked_at=at, approved_at=at,
                              how="ticked", approved_by=(act.note[:120] if act else ""),
                              approved_on=act.on if act else None, act=act, withdrawn_at=withdrawn_at)


class Migration(migrations.Migration):

    dependencies = [("jobs", "0060_samples_contacts_and_who_is_forgotten")]

    operations = [migrations.RunPython(turn_ticks_into_samples, migrations.RunPython.noop)]
