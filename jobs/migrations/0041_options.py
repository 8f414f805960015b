
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0040_private_links'),
    ]

    operations = [
        migrations.AddField(
            model_name='customeranswer',
            name='choice',
            field=models.CharField(blank=True, max_length=80),
        ),
        migrations.AddField(
            model_name='orderline',
            name='offered',
            field=models.CharField(blank=True, choices=[('', 'always'), ('A', 'in option A'), ('B', 'in option B'), ('C', 'in option C'), ('D', 'in option D'), ('+', 'optional')], max_length=1),
        ),
        migrations.AddField(
            model_name='quote',
            name='choices',
            field=models.JSONField(blank=True, default=list),
        ),
    ]
