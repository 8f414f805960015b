"""What was kept of a run: leftovers of its mixes, offcuts of its glass."""

import django.db.models.deletion
import studio.exact
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0005_estimating'),
        ('jobs', '0007_job_states'),
    ]

    operations = [
        migrations.CreateModel(
            name='KeptLeftover',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('mix', models.CharField(max_length=40)),
                ('volume_ml', studio.exact.ExactField(decimals=3)),
                ('mixed_ml', studio.exact.ExactField(decimals=3)),
                ('lot', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='left_by', to='inventory.lot')),
                ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='kept_leftovers', to='jobs.run')),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='KeptOffcut',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('glass', models.CharField(max_length=90)),
                ('sheet', models.PositiveIntegerField()),
                ('piece', models.PositiveIntegerField()),
                ('offcut', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='left_by', to='inventory.offcut')),
                ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='kept_offcuts', to='jobs.run')),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.AddConstraint(
            model_name='keptleftover',
            constraint=models.CheckConstraint(condition=models.Q(('volume_ml__gt', 0), ('volume_ml__lte', models.F('mixed_ml'))), name='no_more_kept_than_mixed'),
        ),
        migrations.AddConstraint(
            model_name='keptoffcut',
            constraint=models.UniqueConstraint(fields=('run', 'glass', 'sheet', 'piece'), name='offcut_of_a_sheet_kept_once'),
        ),
    ]
