
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('studio', '0017_hours_of_the_week'),
    ]

    operations = [
        migrations.AddField(
            model_name='house',
            name='mail_sender',
            field=models.EmailField(blank=True, max_length=254),
        ),
        migrations.AddField(
            model_name='house',
            name='mail_text',
            field=models.TextField(blank=True),
        ),
        migrations.AddField(
            model_name='house',
            name='payment_details',
            field=models.TextField(blank=True),
        ),
    ]
