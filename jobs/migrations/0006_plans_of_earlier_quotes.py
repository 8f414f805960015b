"""Quotes frozen without a plan are given one: worked out this once from their basis, by the pure arithmetic."""

from django.db import migrations

from jobs.estimating.basis import Basis
from jobs.estimating.estimate import estimate_basis
from jobs.frozen import thaw
from jobs.quotes.frozen_plan import freeze_plan


def give_plans(apps, schema_editor):
    quotes = apps.get_model("jobs", "Quote").objects.using(schema_editor.connection.alias)
    for pk, basis in quotes.filter(plan={}).values_list("pk", "basis"):
        quotes.filter(pk=pk).update(plan=freeze_plan(estimate_basis(thaw(basis, Basis))))


class Migration(migrations.Migration):

    dependencies = [("jobs", "0005_quote_plan")]

    operations = [migrations.RunPython(give_plans, migrations.RunPython.noop)]
