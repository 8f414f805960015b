"""A shared mix keeps how much of it is for whom, what it saved, and why it was taken back.

What was agreed before holds none of that, and nothing can tell it: it is offered anew.
"""

import django.db.models.deletion
import studio.exact
import uuid
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0063_shared_mixes'),
    ]

    operations = [
        migrations.DeleteModel(name='SharedMix'),
        migrations.CreateModel(
            name='SharedMix',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.UUIDField(default=uuid.uuid4, unique=True)),
                ('mix', models.PositiveSmallIntegerField()),
                ('load', models.PositiveSmallIntegerField()),
                ('share_ml', studio.exact.ExactField(decimals=3)),
                ('other_mix', models.PositiveSmallIntegerField()),
                ('other_load', models.PositiveSmallIntegerField()),
                ('other_share_ml', studio.exact.ExactField(decimals=3)),
                ('called', models.CharField(max_length=120)),
                ('volume_ml', studio.exact.ExactField(decimals=3)),
                ('minutes_saved', studio.exact.ExactField(decimals=3, default=0)),
                ('ml_saved', studio.exact.ExactField(decimals=3, default=0)),
                ('silver_saved_g', studio.exact.ExactField(decimals=3, default=0)),
                ('agreed_at', models.DateTimeField()),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_because', models.CharField(blank=True, max_length=200)),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='mixes_shared', to='jobs.job')),
                ('other_job', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='mixes_shared_too', to='jobs.job')),
                ('other_quote', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='jobs.quote')),
                ('quote', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='jobs.quote')),
            ],
            options={
                'ordering': ['id'],
                'constraints': [models.UniqueConstraint(condition=models.Q(('withdrawn_at', None)), fields=('job', 'mix'), name='mix_shared_once'), models.UniqueConstraint(condition=models.Q(('withdrawn_at', None)), fields=('other_job', 'other_mix'), name='other_mix_shared_once'), models.CheckConstraint(condition=models.Q(('other_share_ml__gt', 0), ('share_ml__gt', 0), ('volume_ml__gt', 0)), name='shared_mix_has_shares', violation_error_message='Each of the two jobs takes something of a mix that they share.'), models.CheckConstraint(condition=models.Q(('withdrawn_at', None), models.Q(('withdrawn_because', ''), _negated=True), _connector='OR'), name='withdrawn_mix_says_why', violation_error_message='Say why the mix is not shared any more.'), models.CheckConstraint(condition=models.Q(('job', models.F('other_job')), _negated=True), name='mix_is_shared_by_two_jobs', violation_error_message='Two jobs share a mix, not one with itself.')],
            },
        ),
    ]
