"""Working hours are kept in one form that can be read; what cannot be read is as if nobody had said.

It is printed, word for word, so that the owner can enter it anew: until then that day's silver has no closing time.
"""

from django.db import migrations

from studio.kit.working_hours import DAYS, NoHours, parse_hours, show_hours


def rewrite_hours(apps, schema_editor):
    for house in apps.get_model("studio", "House").objects.all():
        for day in DAYS:
            typed = getattr(house, f"hours_{day}")
            try:
                hours = show_hours(parse_hours(typed))
            except NoHours:
                hours = ""
                print(f"\n  The working hours of {day.capitalize()}, “{typed}”, cannot be read: they count as not given. "
                      "Enter them anew in the studio's settings, for instance 08:30-17:30.")
            setattr(house, f"hours_{day}", hours)
        house.save()


class Migration(migrations.Migration):

    dependencies = [
        ("studio", "0007_mixing_minutes_per_batch"),
    ]

    operations = [
        migrations.RunPython(rewrite_hours, migrations.RunPython.noop),
    ]
