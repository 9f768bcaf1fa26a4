import django.core.validators
import django.db.models.deletion
import simple_history.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    """The table of towns, and what is usual where it says nothing."""

    dependencies = [
        ('jobs', '0068_calls_taken'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='company',
            name='drive_in_town_min',
            field=models.PositiveSmallIntegerField(default=10, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(600)], verbose_name='driving between two houses of one town, minutes'),
        ),
        migrations.AddField(
            model_name='company',
            name='drive_min',
            field=models.PositiveSmallIntegerField(default=20, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(600)], verbose_name='driving between two towns that are not in the table, minutes'),
        ),
        migrations.AddField(
            model_name='company',
            name='drive_mph',
            field=models.PositiveSmallIntegerField(default=25, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(80)], verbose_name='driving as the crow flies, miles an hour'),
        ),
        migrations.AddField(
            model_name='historicalcompany',
            name='drive_in_town_min',
            field=models.PositiveSmallIntegerField(default=10, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(600)], verbose_name='driving between two houses of one town, minutes'),
        ),
        migrations.AddField(
            model_name='historicalcompany',
            name='drive_min',
            field=models.PositiveSmallIntegerField(default=20, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(600)], verbose_name='driving between two towns that are not in the table, minutes'),
        ),
        migrations.AddField(
            model_name='historicalcompany',
            name='drive_mph',
            field=models.PositiveSmallIntegerField(default=25, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(80)], verbose_name='driving as the crow flies, miles an hour'),
        ),
        migrations.CreateModel(
            name='HistoricalTownDrive',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('one', models.CharField(max_length=80)),
                ('other', models.CharField(max_length=80)),
                ('one_key', models.CharField(editable=False, max_length=100)),
                ('other_key', models.CharField(editable=False, max_length=100)),
                ('minutes', models.PositiveSmallIntegerField(validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(600)])),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'historical town drive',
                'verbose_name_plural': 'historical town drives',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='TownDrive',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('one', models.CharField(max_length=80)),
                ('other', models.CharField(max_length=80)),
                ('one_key', models.CharField(editable=False, max_length=100)),
                ('other_key', models.CharField(editable=False, max_length=100)),
                ('minutes', models.PositiveSmallIntegerField(validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(600)])),
            ],
            options={
                'ordering': ['one_key', 'other_key'],
                'constraints': [models.UniqueConstraint(fields=('one_key', 'other_key'), name='town_drive_once')],
            },
        ),
    ]
