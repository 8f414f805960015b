"""All that a material reacts as, kept beside it for the database's own rules."""

from fractions import Fraction

from django.db import migrations, models

from studio.stockroom.hazards.classes import with_implied
from studio.stockroom.hazards.identity import Identity, told_by


def tell_classes(apps, schema_editor):
    material = apps.get_model('inventory', 'Material')
    for row in material.objects.all():
        identity = Identity(
            name=row.name, kind=row.kind, cas=row.cas_number, formula=row.formula, hydrate=row.hydrate,
            assay_share=None if row.assay_share is None else Fraction(row.assay_share),
            silver_g_per_unit=Fraction(row.silver_g_per_unit or 0), statements=tuple(map(str, row.hazard_statements)),
            liquid=row.liquid, added=frozenset(map(str, row.reacts_as)),
        )
        classes = sorted(with_implied(told_by(identity).classes | identity.added))
        material.objects.filter(pk=row.pk).update(classes=classes)


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0010_storage_places'),
    ]

    operations = [
        migrations.AddField(
            model_name='material',
            name='classes',
            field=models.JSONField(blank=True, default=list, editable=False),
        ),
        migrations.RunPython(tell_classes, migrations.RunPython.noop),
    ]
