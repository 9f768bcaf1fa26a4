import django.core.validators
import django.db.models.deletion
import simple_history.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    """What a kind of work asks for; nothing did before."""

    dependencies = [
        ("jobs", "0060_days_of_the_company"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='WorkNeed',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('survey', 'Survey and water test'), ('sample', 'Sample'), ('install', 'Installation'), ('disinfect', 'Disinfection of well and plumbing'), ('startup', 'Start-up'), ('recheck', 'Recheck of the oxidant setting'), ('interval', 'Recheck of the backwash or regeneration interval'), ('refill', 'Refill'), ('service', 'Service'), ('rebed', 'New media'), ('repair', 'Repair'), ('callback', 'Callback'), ('removal', 'Removal'), ('other', 'Other')], max_length=10, unique=True)),
                ('licence', models.CharField(blank=True, max_length=80)),
                ('people', models.PositiveSmallIntegerField(default=1, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(2)])),
            ],
            options={
                'ordering': ['kind'],
            },
        ),
        migrations.CreateModel(
            name='HistoricalWorkNeed',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('kind', models.CharField(choices=[('survey', 'Survey and water test'), ('sample', 'Sample'), ('install', 'Installation'), ('disinfect', 'Disinfection of well and plumbing'), ('startup', 'Start-up'), ('recheck', 'Recheck of the oxidant setting'), ('interval', 'Recheck of the backwash or regeneration interval'), ('refill', 'Refill'), ('service', 'Service'), ('rebed', 'New media'), ('repair', 'Repair'), ('callback', 'Callback'), ('removal', 'Removal'), ('other', 'Other')], db_index=True, max_length=10)),
                ('licence', models.CharField(blank=True, max_length=80)),
                ('people', models.PositiveSmallIntegerField(default=1, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(2)])),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'historical work need',
                'verbose_name_plural': 'historical work needs',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
    ]
