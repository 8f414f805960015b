
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0061_ticks_are_samples_approved'),
    ]

    operations = [
        migrations.AddField(
            model_name='weekplan',
            name='offered',
            field=models.BooleanField(default=False),
        ),
    ]
