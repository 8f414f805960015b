import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0030_the_week'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='QuoteLink',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.UUIDField(unique=True)),
                ('token_hash', models.CharField(max_length=64, unique=True)),
                ('made_at', models.DateTimeField()),
                ('valid_until', models.DateField()),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('quote', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='links', to='jobs.quote')),
                ('withdrawn_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='CustomerAnswer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('accepted', models.BooleanField()),
                ('name', models.CharField(max_length=80)),
                ('said', models.CharField(blank=True, max_length=500)),
                ('at', models.DateTimeField()),
                ('quote_sha256', models.CharField(max_length=64)),
                ('link', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='answer', to='jobs.quotelink')),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='QuoteMail',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.UUIDField(unique=True)),
                ('addresses', models.CharField(max_length=500)),
                ('subject', models.CharField(max_length=150)),
                ('text', models.TextField()),
                ('state', models.CharField(choices=[('written', 'written, not known to be sent'), ('sent', 'sent'), ('failed', 'not sent')], default='written', max_length=8)),
                ('written_at', models.DateTimeField()),
                ('sent_at', models.DateTimeField(blank=True, null=True)),
                ('why_not', models.CharField(blank=True, max_length=300)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('link', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='mail', to='jobs.quotelink')),
                ('quote', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='mails', to='jobs.quote')),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.AddConstraint(
            model_name='quotelink',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at', None), ('withdrawn_by', None)), models.Q(('withdrawn_at__isnull', False), ('withdrawn_by__isnull', False)), _connector='OR'), name='withdrawn_link_has_a_person'),
        ),
        migrations.AddConstraint(
            model_name='customeranswer',
            constraint=models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='customer_answers_by_name'),
        ),
        migrations.AddConstraint(
            model_name='quotemail',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('addresses', ''), _negated=True), models.Q(('subject', ''), _negated=True)), name='mail_goes_to_somebody'),
        ),
        migrations.AddConstraint(
            model_name='quotemail',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('sent_at__isnull', False), ('state', 'sent')), models.Q(models.Q(('state', 'sent'), _negated=True), ('sent_at', None)), _connector='OR'), name='sent_mail_has_a_time'),
        ),
        migrations.AddConstraint(
            model_name='quotemail',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('state', 'failed'), models.Q(('why_not', ''), _negated=True)), models.Q(models.Q(('state', 'failed'), _negated=True), ('why_not', '')), _connector='OR'), name='mail_not_sent_says_why'),
        ),
    ]
