
import django.core.validators
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('studio', '0009_people_and_a_mark'),
    ]

    operations = [
        migrations.AddField(
            model_name='houserates',
            name='usual_working_days',
            field=models.PositiveSmallIntegerField(blank=True, help_text='Quotes and the swatch book say this, or what is worked out where that is longer. Empty: as worked out.', null=True, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(400)], verbose_name='usually ready, working days after go-ahead'),
        ),
        migrations.AddConstraint(
            model_name='houserates',
            constraint=models.CheckConstraint(condition=models.Q(('usual_working_days', None), models.Q(('usual_working_days__gte', 1), ('usual_working_days__lte', 400)), _connector='OR'), name='usual_working_days_are_some'),
        ),
    ]
