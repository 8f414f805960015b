"""Requests for money are numbered, due after so many days, and say how they are paid."""

import django.core.validators
import studio.house.models
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('studio', '0027_payment_and_mail'),
    ]

    operations = [
        migrations.AddField(
            model_name='house',
            name='request_days',
            field=models.PositiveSmallIntegerField(default=14, help_text='From the day that the money is asked for; 0: at once.', validators=[django.core.validators.MaxValueValidator(365)], verbose_name='requests are due after, days'),
        ),
        migrations.AddField(
            model_name='house',
            name='request_first_number',
            field=models.PositiveIntegerField(default=1, help_text='Of the first request ever made here; every later one is one more.', validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(99999999)], verbose_name='the first request has the number'),
        ),
        migrations.AddField(
            model_name='house',
            name='request_prefix',
            field=models.CharField(blank=True, help_text='Before the number, for instance R- or 26/; empty for none.', max_length=12, validators=[studio.house.models._check_prefix], verbose_name='requests for money begin with'),
        ),
        migrations.AddConstraint(
            model_name='house',
            constraint=models.CheckConstraint(condition=models.Q(('request_first_number__gte', 1)), name='first_request_has_a_number'),
        ),
    ]
