"""Working hours are kept in one form that can be read; what cannot be read is as if nobody had said."""

from django.db import migrations

from studio.kit.working_hours import DAYS, NoHours, parse_hours, show_hours


def rewrite_hours(apps, schema_editor):
    for house in apps.get_model("studio", "House").objects.all():
        for day in DAYS:
            try:
                hours = show_hours(parse_hours(getattr(house, f"hours_{day}")))
            except NoHours:
                hours = ""
            setattr(house, f"hours_{day}", hours)
        house.save()


class Migration(migrations.Migration):

    dependencies = [
        ("studio", "0007_mixing_minutes_per_batch"),
    ]

    operations = [
        migrations.RunPython(rewrite_hours, migrations.RunPython.noop),
    ]
