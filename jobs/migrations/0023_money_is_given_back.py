"""Money can be given back; sample and deposit are asked at booking, and no reason is made up once one is undone."""

from django.db import migrations, models

KINDS = [
    ("order changed", "order changed"), ("sent", "quote sent"), ("accepted", "quote accepted"),
    ("declined", "quote declined"), ("booked", "booked"), ("revised", "order changed after booking"),
    ("sample", "sample approved"), ("paid", "money in"), ("given back", "money given back"),
    ("delivered", "delivered"), ("cancelled", "cancelled"), ("corrected", "deduction corrected"), ("undone", "undone"),
]


def take_out_what_nobody_said(apps, schema_editor):
    """Until now an undoing wrote its own reason as the one that a job goes ahead for."""
    acts = apps.get_model("jobs", "JobAct").objects.filter(kind="undone", undoes__kind__in=["sample", "paid"])
    for act in acts.select_related("job").order_by("pk"):
        if act.job.waived_because == f"undone: {act.note}"[:200]:
            apps.get_model("jobs", "Job").objects.filter(pk=act.job_id).update(waived_because="")


class Migration(migrations.Migration):

    dependencies = [("jobs", "0022_the_letter_of_an_order")]

    operations = [
        migrations.RemoveConstraint(model_name="job", name="booked_with_sample_and_deposit"),
        migrations.RemoveConstraint(model_name="jobact", name="money_in_has_an_amount"),
        migrations.AlterField(
            model_name="jobact", name="kind", field=models.CharField(choices=KINDS, max_length=14)),
        migrations.AddConstraint(
            model_name="jobact",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("amount__gt", 0), ("kind__in", ["paid", "given back"])),
                    models.Q(models.Q(("kind__in", ["paid", "given back"]), _negated=True), ("amount", None)),
                    _connector="OR",
                ),
                name="money_has_an_amount", violation_error_code="amount",
                violation_error_message="Say how much it was.",
            ),
        ),
        migrations.RunPython(take_out_what_nobody_said, migrations.RunPython.noop),
    ]
