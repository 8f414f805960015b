"""A ticket keeps the volume of its largest mix: the page of a finish asked every plan for it."""

from decimal import Decimal
from fractions import Fraction
from math import ceil

import studio.exact
from django.db import migrations


def keep_the_largest(apps, schema_editor):
    tickets = apps.get_model('jobs', 'WorkTicket').objects
    for ticket in tickets.only('plan').iterator(chunk_size=50):
        volumes = [Fraction(mix['volume_ml']) for mix in ticket.plan.get('mixes', ())
                   if 'volume_ml' in mix and mix.get('mixed_for') != 'job']
        largest = ceil(max(volumes, default=Fraction(0)) * 1000)
        tickets.filter(pk=ticket.pk).update(largest_mix_ml=Decimal(largest) / 1000)


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0066_pinned_to_hands'),
    ]

    operations = [
        migrations.AddField(
            model_name='workticket',
            name='largest_mix_ml',
            field=studio.exact.ExactField(decimals=3, default=0, editable=False),
        ),
        migrations.RunPython(keep_the_largest, migrations.RunPython.noop),
    ]
