"""Who did what to a job, when and why; an accepted quote is replaced by a newer one."""

import django.db.models.deletion
import studio.exact
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0019_a_line_may_have_a_price_of_its_own'),
        ('studio', '0008_working_hours_are_readable'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='JobAct',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.UUIDField(default=uuid.uuid4, unique=True)),
                ('kind', models.CharField(choices=[('order changed', 'order changed'), ('sent', 'quote sent'), ('accepted', 'quote accepted'), ('declined', 'quote declined'), ('booked', 'booked'), ('revised', 'order changed after booking'), ('sample', 'sample approved'), ('paid', 'money in'), ('delivered', 'delivered'), ('cancelled', 'cancelled'), ('corrected', 'deduction corrected'), ('undone', 'undone')], max_length=14)),
                ('at', models.DateTimeField(blank=True, null=True)),
                ('on', models.DateField(blank=True, null=True)),
                ('note', models.CharField(blank=True, max_length=200)),
                ('amount', studio.exact.ExactField(blank=True, decimals=4, null=True)),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.RemoveConstraint(
            model_name='quote',
            name='decision_has_a_time',
        ),
        migrations.AlterField(
            model_name='quote',
            name='state',
            field=models.CharField(choices=[('draft', 'draft'), ('sent', 'sent'), ('accepted', 'accepted'), ('declined', 'declined'), ('lapsed', 'lapsed'), ('replaced', 'replaced')], default='draft', max_length=10),
        ),
        migrations.AddConstraint(
            model_name='quote',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('decided_at__isnull', False), ('state__in', ['accepted', 'declined', 'replaced'])), models.Q(models.Q(('state__in', ['accepted', 'declined', 'replaced']), _negated=True), ('decided_at', None)), _connector='OR'), name='decision_has_a_time'),
        ),
        migrations.AddField(
            model_name='jobact',
            name='by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='jobact',
            name='job',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='acts', to='jobs.job'),
        ),
        migrations.AddField(
            model_name='jobact',
            name='quote',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='acts', to='jobs.quote'),
        ),
        migrations.AddField(
            model_name='jobact',
            name='undoes',
            field=models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='undone_by', to='jobs.jobact'),
        ),
        migrations.AddConstraint(
            model_name='jobact',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind', 'undone'), ('undoes__isnull', False)), models.Q(models.Q(('kind', 'undone'), _negated=True), ('undoes', None)), _connector='OR'), name='what_is_undone_is_named'),
        ),
        migrations.AddConstraint(
            model_name='jobact',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind', 'undone'), _negated=True), models.Q(('note', ''), _negated=True), _connector='OR'), name='undone_says_why', violation_error_code='why', violation_error_message='Say why it is undone.'),
        ),
        migrations.AddConstraint(
            model_name='jobact',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('amount__gt', 0), ('kind', 'paid')), models.Q(models.Q(('kind', 'paid'), _negated=True), ('amount', None)), _connector='OR'), name='money_in_has_an_amount', violation_error_code='amount', violation_error_message='Say how much came in.'),
        ),
        migrations.AddConstraint(
            model_name='jobact',
            constraint=models.CheckConstraint(condition=models.Q(('at__isnull', False), ('by', None), _connector='OR'), name='who_did_it_did_it_at_a_time'),
        ),
    ]
