"""Storage places with a type: one, general, for every name that a material gives."""

import django.db.models.functions.text
from django.db import migrations, models


def a_general_place_for_each_name(apps, schema_editor):
    place = apps.get_model('inventory', 'StoragePlace')
    names = {}
    for name in apps.get_model('inventory', 'Material').objects.order_by('pk').values_list('storage_place', flat=True):
        if name.strip():
            names.setdefault(name.casefold(), name)
    place.objects.bulk_create([place(name=name, type='general') for name in names.values()])


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0009_made_here_and_waste'),
    ]

    operations = [
        migrations.CreateModel(
            name='StoragePlace',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60)),
                ('type', models.CharField(choices=[('acids', 'for acids'), ('caustics', 'for caustics'), ('oxidisers', 'for oxidisers'), ('flammables', 'for flammables'), ('toxics', 'for toxics'), ('general', 'general')], default='general', max_length=10)),
                ('is_cold', models.BooleanField(default=False)),
                ('is_dark', models.BooleanField(default=False)),
                ('saves', models.PositiveIntegerField(default=1)),
            ],
            options={
                'ordering': ['name'],
            },
        ),
        migrations.AddConstraint(
            model_name='storageplace',
            constraint=models.UniqueConstraint(django.db.models.functions.text.Lower('name'), name='storage_place_once', violation_error_message='There is a place of that name already.'),
        ),
        migrations.AddConstraint(
            model_name='storageplace',
            constraint=models.CheckConstraint(condition=models.Q(('type__in', ['acids', 'caustics', 'oxidisers', 'flammables', 'toxics', 'general'])), name='known_type_of_place'),
        ),
        migrations.RunPython(a_general_place_for_each_name, migrations.RunPython.noop),
    ]
