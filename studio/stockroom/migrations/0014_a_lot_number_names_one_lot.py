"""A lot number names one lot: of two that shared one, the later is called by it and -2, and its label printed anew."""

import django.db.models.functions.text
from django.db import migrations, models

LONGEST = 40


def rename_the_later_ones(apps, schema_editor):
    lot_model = apps.get_model('inventory', 'Lot')
    taken, twice = set(), []
    for pk, number in lot_model.objects.order_by('pk').values_list('pk', 'lot_number'):
        if number.casefold() in taken:
            twice.append((pk, number))
        taken.add(number.casefold())
    for pk, number in twice:
        at = 2
        while (renamed := f'{number[:LONGEST - len(str(at)) - 1]}-{at}').casefold() in taken:
            at += 1
        taken.add(renamed.casefold())
        lot_model.objects.filter(pk=pk).update(lot_number=renamed)


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0013_waste_of_which_none_apply'),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='lot',
            name='lot_number_once_per_material',
        ),
        migrations.RunPython(rename_the_later_ones, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name='lot',
            constraint=models.UniqueConstraint(django.db.models.functions.text.Lower('lot_number'), name='lot_number_names_one_lot', violation_error_message='There is a lot of that number already: one number names one lot.'),
        ),
    ]
