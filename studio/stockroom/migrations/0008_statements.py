"""Precautionary statements of a material, and the category of the hazard statements that need one."""

from django.db import migrations, models

import studio.stockroom.models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0007_identity'),
    ]

    operations = [
        migrations.AddField(
            model_name='material',
            name='statement_categories',
            field=models.JSONField(blank=True, default=dict, validators=[studio.stockroom.models._check_categories]),
        ),
        migrations.AddField(
            model_name='material',
            name='precautions',
            field=models.JSONField(blank=True, default=list, validators=[studio.stockroom.models._check_precautions]),
        ),
    ]
