"""A lot whose receipt was undone gives back its number, and the order that it closed is awaited again."""

from itertools import count

from django.db import migrations

LONGEST = 40


def give_back(apps, schema_editor):
    lot_model = apps.get_model("inventory", "Lot")
    undone = list(apps.get_model("inventory", "StockMovement").objects.filter(
        kind="receipt", reverses__isnull=False).order_by("lot_id").values_list("lot_id", flat=True))
    taken = {number.casefold() for number in lot_model.objects.values_list("lot_number", flat=True)}
    for lot in undone:
        number = lot_model.objects.values_list("lot_number", flat=True).get(pk=lot)
        ends = (f" (undone{'' if at == 1 else f' {at}'})" for at in count(1))
        names = (f"{number[:LONGEST - len(end)].rstrip()}{end}" for end in ends)
        renamed = next(name for name in names if name.casefold() not in taken)
        taken.add(renamed.casefold())
        lot_model.objects.filter(pk=lot).update(lot_number=renamed)
        apps.get_model("inventory", "Purchase").objects.filter(lot_id=lot).update(lot=None)


class Migration(migrations.Migration):

    dependencies = [
        ("inventory", "0015_a_count_keeps_when_each_figure_was_written"),
    ]

    operations = [
        migrations.RunPython(give_back, migrations.RunPython.noop),
    ]
