"""The letter that an order was read from stays with it, and what became of each thing in it."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0021_acts_of_before'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AlterField(
            model_name='orderline',
            name='note',
            field=models.CharField(blank=True, max_length=1000),
        ),
        migrations.AddField(
            model_name='order',
            name='letter',
            field=models.TextField(blank=True),
        ),
        migrations.CreateModel(
            name='LetterPoint',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.CharField(max_length=10)),
                ('kind', models.CharField(choices=[('line', 'a line'), ('question', 'a question'), ('mark', 'something said')], max_length=8)),
                ('written', models.TextField()),
                ('said', models.TextField(blank=True)),
                ('state', models.CharField(choices=[('open', 'open'), ('taken', 'in the order'), ('left out', 'settled without a line')], default='open', max_length=8)),
                ('settled_at', models.DateTimeField(blank=True, null=True)),
                ('order', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='letter_points', to='jobs.order')),
                ('settled_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['id'],
                'constraints': [models.UniqueConstraint(fields=('order', 'key'), name='letter_point_once'), models.CheckConstraint(condition=models.Q(models.Q(('settled_at', None), ('settled_by', None), ('state', 'open')), models.Q(models.Q(('state', 'open'), _negated=True), ('settled_at__isnull', False), ('settled_by__isnull', False)), _connector='OR'), name='settled_letter_point_has_a_person')],
            },
        ),
    ]
