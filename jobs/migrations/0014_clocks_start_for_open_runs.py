"""The clocks of open runs start: by itself, since PostgreSQL adds no constraint to rows written in one transaction."""

import uuid

from django.db import migrations


def start_clocks_of_open_runs(apps, schema_editor):
    """Start the clock of each ammoniacal mix that an open run holds, where nobody recorded that it was made safe.

    A run's one record of before says that everything was made safe: it covers all its mixes.
    """
    run_model, entry_model = apps.get_model("jobs", "Run"), apps.get_model("jobs", "RunEntry")
    link_model, clock_model = apps.get_model("jobs", "RunClock"), apps.get_model("recipes", "SilverClock")
    safe = entry_model.objects.filter(kind="made safe").values("run")
    for run in run_model.objects.filter(finished_at=None).exclude(pk__in=safe).select_related("ticket"):
        silver = {mix["key"]: mix for mix in run.ticket.plan["mixes"]
                  if mix["ammoniacal"] or _is_ammoniacal(set(mix["agents"]))}
        newest = {}
        for entry in entry_model.objects.filter(run=run, kind="mixed", subject__in=silver).order_by("pk"):
            newest[entry.subject] = entry
        for subject, entry in newest.items():
            if not entry.content["made"]:
                continue
            load = silver[subject]["load"]
            clock = clock_model.objects.create(
                key=uuid.uuid5(uuid.NAMESPACE_URL, f"silvering-daybook:clock:{entry.client_key}"), subject=subject,
                what=silver[subject]["solution"] + (f", load {load}" if load else ""), began="mixed",
                started_at=min(entry.device_at or entry.at, entry.at), noted_at=entry.at, noted_by_id=entry.by_id,
            )
            link_model.objects.create(run=run, clock=clock)


def _is_ammoniacal(agents):
    silver = bool(agents & {"silver_salt", "silver_chloride"})
    freed = bool(agents & {"ammonium", "ammonium_nitrate"}) and bool(agents & {"caustic", "caustic_solid"})
    return silver and ("ammonia" in agents or freed)


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0013_the_clock_of_a_run'),
    ]

    operations = [
        migrations.RunPython(start_clocks_of_open_runs, migrations.RunPython.noop),
    ]
