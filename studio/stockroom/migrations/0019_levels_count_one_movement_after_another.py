"""A level says which movement it counted last: the next one is added, and nobody sums a lot's whole past."""

from django.db import migrations, models
from django.db.models import Max, OuterRef, Subquery
from django.db.models.functions import Coalesce


def count_to_the_newest(apps, schema_editor):
    moved = apps.get_model('inventory', 'StockMovement').objects.filter(lot=OuterRef('lot')).order_by().values('lot')
    apps.get_model('inventory', 'LotLevel').objects.update(
        counted_to=Coalesce(Subquery(moved.annotate(newest=Max('pk')).values('newest')), 0))


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0018_what_lists_ask'),
    ]

    operations = [
        migrations.AddField(
            model_name='lotlevel',
            name='counted_to',
            field=models.PositiveBigIntegerField(default=0),
        ),
        migrations.RunPython(count_to_the_newest, migrations.RunPython.noop),
    ]
