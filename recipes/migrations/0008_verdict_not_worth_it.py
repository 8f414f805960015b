from __future__ import annotations

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("recipes", "0007_words")]

    operations = [
        migrations.AlterField(
            model_name="trial",
            name="verdict",
            field=models.CharField(
                blank=True, max_length=7,
                choices=[("liked", "liked: worth making again"), ("further", "try further"), ("left", "not worth it")],
            ),
        ),
    ]
