"""What was done to jobs before acts were recorded: with its moment where the book knows it, and nobody's name."""

from django.db import migrations
from django.db.models import Q


def tell_what_was_done(apps, schema_editor):
    JobAct = apps.get_model("jobs", "JobAct")
    for job in apps.get_model("jobs", "Job").objects.select_related("quote").order_by("pk").iterator(chunk_size=500):
        for values in sorted(_done_to(apps, job), key=lambda act: (act["at"] is None, act["at"])):
            JobAct.objects.create(job=job, **values)


def _done_to(apps, job):
    quotes = apps.get_model("jobs", "Quote").objects.filter(order=job.order_id)
    for quote in quotes.filter(Q(sent_at__isnull=False) | Q(decided_at__isnull=False)).order_by("pk"):
        if quote.sent_at:
            yield {"kind": "sent", "at": quote.sent_at, "quote": quote}
        if quote.decided_at:
            yield {"kind": quote.state, "at": quote.decided_at, "quote": quote}
    if job.booked_at:
        yield {"kind": "booked", "at": job.booked_at, "note": job.waived_because, "quote": job.quote}
        if job.sample_approved:
            yield {"kind": "sample", "at": job.booked_at}
        if job.deposit_noted and job.quote and job.quote.deposit > 0:
            yield {"kind": "paid", "at": job.booked_at, "amount": job.quote.deposit}
    if job.state in ("delivered", "cancelled"):
        yield {"kind": job.state, "at": None, "note": job.cancelled_because}


class Migration(migrations.Migration):

    dependencies = [("jobs", "0020_what_was_done_to_a_job")]

    operations = [migrations.RunPython(tell_what_was_done, migrations.RunPython.noop)]
