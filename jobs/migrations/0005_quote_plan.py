"""A quote holds its plan; the next migration gives one to quotes that were frozen without."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("jobs", "0004_estimating")]

    operations = [
        migrations.AddField(
            model_name="quote", name="plan", field=models.JSONField(default=dict), preserve_default=False
        ),
    ]
