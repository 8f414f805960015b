"""A ticket says which it replaces; what a held lot touched is settled. What was recorded of a lot that has a number of
its own since says so.
"""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def name_lots_as_they_are_called_now(apps, schema_editor):
    """Name the lots recorded at a mix that shared their number with another: by the number that they have since."""
    lots = {}
    rows = apps.get_model('inventory', 'Lot').objects.values_list('material__code', 'lot_number')
    for code, number in rows:
        lots.setdefault(code, set()).add(number)
    entries = apps.get_model('jobs', 'RunEntry').objects.filter(kind='mixed').select_related('run__ticket')
    for entry in entries.iterator(chunk_size=500):
        if not entry.content.get('lots'):
            continue
        mix = next((mix for mix in entry.run.ticket.plan['mixes'] if mix['key'] == entry.subject), None)
        codes = {str(row['number']): row['code'] for row in mix['ingredients']} if mix else {}
        named = {row: [[_called(number, lots.get(codes.get(row), set())), amount] for number, amount in taken]
                 for row, taken in entry.content['lots'].items()}
        if named != entry.content['lots']:
            entry.content = {**entry.content, 'lots': named}
            entry.save(update_fields=['content'])


def _called(number, mine):
    if number in mine:
        return number
    return next((found for found in sorted(mine) if found.rpartition('-')[0] == number), number)


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0014_a_lot_number_names_one_lot'),
        ('jobs', '0016_what_the_bench_sends'),
        ('recipes', '0018_one_open_clock_a_solution_of_a_trial'),
        ('studio', '0008_working_hours_are_readable'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RunPython(name_lots_as_they_are_called_now, migrations.RunPython.noop),
        migrations.CreateModel(
            name='RecallSettled',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.UUIDField(unique=True)),
                ('part', models.CharField(blank=True, max_length=20)),
                ('decided', models.CharField(max_length=200)),
                ('at', models.DateTimeField()),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.AddField(
            model_name='workticket',
            name='replaces',
            field=models.PositiveIntegerField(blank=True, null=True),
        ),
        migrations.AddConstraint(
            model_name='workticket',
            constraint=models.UniqueConstraint(fields=('job', 'replaces'), name='ticket_replaced_once', violation_error_message='Another ticket was printed in place of this one already.'),
        ),
        migrations.AddConstraint(
            model_name='workticket',
            constraint=models.CheckConstraint(condition=models.Q(('replaces', None), ('replaces__lt', models.F('number')), _connector='OR'), name='ticket_replaces_an_earlier'),
        ),
        migrations.AddField(
            model_name='recallsettled',
            name='by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='recallsettled',
            name='lot',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='recall_settled', to='inventory.lot'),
        ),
        migrations.AddField(
            model_name='recallsettled',
            name='run',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='recall_settled', to='jobs.run'),
        ),
        migrations.AddField(
            model_name='recallsettled',
            name='trial',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='recall_settled', to='recipes.trial'),
        ),
        migrations.AddConstraint(
            model_name='recallsettled',
            constraint=models.CheckConstraint(condition=models.Q(('decided', ''), _negated=True), name='recall_settled_says_how', violation_error_code='decided', violation_error_message='Say what was decided.'),
        ),
        migrations.AddConstraint(
            model_name='recallsettled',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('run', None), ('trial__isnull', False)), models.Q(('run__isnull', False), ('trial', None)), _connector='OR'), name='recall_settled_of_a_run_or_a_trial'),
        ),
    ]
