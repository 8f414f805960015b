"""What rows say in the words of before: events, the names of changed values, the keys of what was typed."""

from django.db import migrations

RENAMED = {"border_mm": "overspray_mm", "active": "scales_with_strength"}


def rename_in_rows(apps, schema_editor):
    """Put the new words where the old ones stand; search words are written anew at the next search."""
    apps.get_model("recipes", "VersionEvent").objects.filter(kind="issued").update(kind="in use")
    changes = apps.get_model("recipes", "TrialChange").objects
    for old, new in RENAMED.items():
        changes.filter(what=old).update(what=new)
    for name in ("Step", "Part", "Ingredient", "Trial"):
        model = apps.get_model("recipes", name)
        if not any(field.name == "typed" for field in model._meta.fields):
            continue
        for row in model.objects.exclude(typed={}).exclude(typed=""):
            if isinstance(row.typed, dict) and RENAMED.keys() & row.typed.keys():
                row.typed = {RENAMED.get(key, key): value for key, value in row.typed.items()}
                row.save(update_fields=["typed"])
    apps.get_model("recipes", "SearchWords").objects.all().delete()


class Migration(migrations.Migration):

    dependencies = [("recipes", "0005_recipe_versions")]

    operations = [migrations.RunPython(rename_in_rows, migrations.RunPython.noop)]
