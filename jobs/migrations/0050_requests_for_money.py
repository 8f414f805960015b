"""Requests for money, and how money was paid."""

import django.db.models.deletion
import studio.exact
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0041_options'),
        ('studio', '0037_asking_for_money'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='MoneyRequest',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.UUIDField(unique=True)),
                ('number', models.PositiveIntegerField(unique=True)),
                ('prefix', models.CharField(blank=True, max_length=12)),
                ('kind', models.CharField(choices=[('deposit', 'deposit'), ('balance', 'balance'), ('credit', 'credit')], max_length=8)),
                ('asked_on', models.DateField()),
                ('due_on', models.DateField()),
                ('currency', models.CharField(max_length=3)),
                ('net', studio.exact.ExactField(decimals=4)),
                ('tax', studio.exact.ExactField(decimals=4)),
                ('total', studio.exact.ExactField(decimals=4)),
                ('content', models.JSONField()),
                ('note', models.CharField(blank=True, max_length=200)),
                ('at', models.DateTimeField()),
            ],
            options={
                'ordering': ['number'],
            },
        ),
        migrations.AddField(
            model_name='jobact',
            name='how',
            field=models.CharField(blank=True, choices=[('transfer', 'by transfer'), ('cash', 'in cash'), ('card', 'by card'), ('cheque', 'by cheque'), ('other', 'otherwise')], max_length=8),
        ),
        migrations.AddConstraint(
            model_name='jobact',
            constraint=models.CheckConstraint(condition=models.Q(('how', ''), models.Q(('how__in', ['transfer', 'cash', 'card', 'cheque', 'other']), ('kind__in', ['paid', 'given back'])), _connector='OR'), name='only_money_is_paid_somehow'),
        ),
        migrations.AddField(
            model_name='moneyrequest',
            name='by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='moneyrequest',
            name='credits',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='credited_by', to='jobs.moneyrequest'),
        ),
        migrations.AddField(
            model_name='moneyrequest',
            name='job',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='money_requests', to='jobs.job'),
        ),
        migrations.AddField(
            model_name='moneyrequest',
            name='paper',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='studio.storedfile'),
        ),
        migrations.AddField(
            model_name='moneyrequest',
            name='quote',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='money_requests', to='jobs.quote'),
        ),
        migrations.AddIndex(
            model_name='moneyrequest',
            index=models.Index(fields=['asked_on'], name='money_request_asked_on'),
        ),
        migrations.AddConstraint(
            model_name='moneyrequest',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('credits', None), ('kind__in', ['deposit', 'balance']), ('total__gt', 0)), models.Q(('credits__isnull', False), ('kind', 'credit'), ('total__lt', 0), models.Q(('note', ''), _negated=True)), _connector='OR'), name='credit_names_what_it_takes_back'),
        ),
        migrations.AddConstraint(
            model_name='moneyrequest',
            constraint=models.CheckConstraint(condition=models.Q(('number__gte', 1)), name='money_request_has_a_number'),
        ),
        migrations.AddConstraint(
            model_name='moneyrequest',
            constraint=models.CheckConstraint(condition=models.Q(('due_on__gte', models.F('asked_on'))), name='money_is_due_once_it_is_asked'),
        ),
    ]
