
import django.db.models.deletion
import uuid
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0062_offered_plans'),
    ]

    operations = [
        migrations.CreateModel(
            name='SharedMix',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.UUIDField(default=uuid.uuid4, unique=True)),
                ('mix', models.PositiveSmallIntegerField()),
                ('other_mix', models.PositiveSmallIntegerField()),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='mixes_shared', to='jobs.job')),
                ('other_job', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='mixes_shared_too', to='jobs.job')),
            ],
            options={
                'ordering': ['id'],
                'constraints': [models.UniqueConstraint(fields=('job', 'mix'), name='mix_shared_once'), models.UniqueConstraint(fields=('other_job', 'other_mix'), name='other_mix_shared_once'), models.CheckConstraint(condition=models.Q(('job', models.F('other_job')), _negated=True), name='mix_is_shared_by_two_jobs', violation_error_message='Two jobs share a mix, not one with itself.')],
            },
        ),
    ]
