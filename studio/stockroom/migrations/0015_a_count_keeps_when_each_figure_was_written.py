from django.db import migrations, models
from django.db.models import Q

import studio.exact


def as_of_its_sheet(apps, schema_editor):
    """Figures of before were taken as written at their sheet's moment, and what was expected then is what was held."""
    lines = apps.get_model("inventory", "CountLine").objects.filter(counted__isnull=False, written_at=None)
    for line in lines.select_related("sheet"):
        line.written_at, line.held_then = line.sheet.as_of, line.expected
        line.save(update_fields=["written_at", "held_then"])


class Migration(migrations.Migration):

    dependencies = [
        ("inventory", "0014_a_lot_number_names_one_lot"),
    ]

    operations = [
        migrations.AddField(
            model_name="countline", name="written_at", field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="countline", name="held_then",
            field=studio.exact.ExactField(blank=True, decimals=3, null=True),
        ),
        migrations.RunPython(as_of_its_sheet, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="countline",
            constraint=models.CheckConstraint(
                condition=Q(counted=None, written_at=None, held_then=None)
                | Q(counted__isnull=False, written_at__isnull=False, held_then__isnull=False),
                name="counted_figure_has_its_moment",
            ),
        ),
    ]
