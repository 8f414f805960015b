"""Why a class was taken away is kept; silver is worked out from the number where no formula was given."""

from fractions import Fraction

import django.db.models.deletion
import studio.stockroom.models
from django.conf import settings
from django.db import migrations, models

from studio.exact import RATIO_DECIMALS
from studio.kit.rounding import as_decimal
from studio.stockroom.hazards.identity import Identity, silver_content


def work_out_silver(apps, schema_editor):
    material = apps.get_model('inventory', 'Material')
    for row in material.objects.filter(silver_g_per_unit=0, formula='').exclude(cas_number=''):
        content = silver_content(
            Identity(cas=row.cas_number, assay_share=None if row.assay_share is None else Fraction(row.assay_share)),
            stock_unit=row.stock_unit,
            density=None if row.density_g_per_ml is None else Fraction(row.density_g_per_ml),
        )
        if content:
            material.objects.filter(pk=row.pk).update(silver_g_per_unit=as_decimal(content, RATIO_DECIMALS))


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0011_material_classes'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='material',
            name='no_statements',
            field=models.BooleanField(default=False, help_text='Its data sheet was read, and gives no hazard statement.'),
        ),
        migrations.CreateModel(
            name='ClassesTakenAway',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at_save', models.PositiveIntegerField()),
                ('classes', models.JSONField(validators=[studio.stockroom.models._known_agents])),
                ('why', models.CharField(max_length=200)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('material', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='classes_taken_away', to='inventory.material')),
            ],
            options={
                'ordering': ['at', 'id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('why', ''), _negated=True), name='classes_taken_away_say_why'), models.UniqueConstraint(fields=('material', 'at_save'), name='classes_taken_away_once_a_save')],
            },
        ),
        migrations.RunPython(work_out_silver, migrations.RunPython.noop),
    ]
