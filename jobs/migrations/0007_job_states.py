"""The states of a job by their new names, and two that were missing: quoted and part done."""

from django.db import migrations, models
from django.db.models import Count, Q

RENAMED = {'handed over': 'delivered', 'called off': 'cancelled'}


def rename(apps, schema_editor):
    Job = apps.get_model('jobs', 'Job')
    Quote, PaneResult = apps.get_model('jobs', 'Quote'), apps.get_model('jobs', 'PaneResult')
    for old, new in RENAMED.items():
        Job.objects.filter(state=old).update(state=new)
    out = Quote.objects.filter(state__in=['sent', 'accepted']).values('order')
    Job.objects.filter(state='enquiry', order__in=out).update(state='quoted')
    for job in Job.objects.filter(state='finished').iterator():
        good = dict(PaneResult.objects.filter(run__ticket__job=job, good=True).order_by()
                    .values_list('line_number').annotate(panes=Count('pk')))
        if any(good.get(line.number, 0) < line.quantity for line in job.order.lines.all()):
            Job.objects.filter(pk=job.pk).update(state='part done')


def name_back(apps, schema_editor):
    Job = apps.get_model('jobs', 'Job')
    for old, new in RENAMED.items():
        Job.objects.filter(state=new).update(state=old)
    Job.objects.filter(state='quoted').update(state='enquiry')
    Job.objects.filter(state='part done').update(state='finished')


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0006_plans_of_earlier_quotes'),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='job',
            name='booked_job_has_quote_and_stock',
        ),
        migrations.AlterField(
            model_name='job',
            name='state',
            field=models.CharField(choices=[('enquiry', 'enquiry'), ('quoted', 'quoted'), ('booked', 'booked'), ('on the bench', 'on the bench'), ('part done', 'part done'), ('finished', 'finished'), ('delivered', 'delivered'), ('cancelled', 'cancelled')], default='enquiry', max_length=12),
        ),
        migrations.RunPython(rename, name_back),
        migrations.AddConstraint(
            model_name='job',
            constraint=models.CheckConstraint(condition=Q(('state__in', ['enquiry', 'quoted', 'cancelled']), Q(('booked_at__isnull', False), ('quote__isnull', False), ('reservation__isnull', False)), _connector='OR'), name='booked_job_has_quote_and_stock'),
        ),
    ]
