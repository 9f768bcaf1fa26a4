from datetime import time

import django.core.validators
import django.db.models.deletion
import simple_history.models
from django.conf import settings
from django.db import migrations, models


def from_the_profile(apps, schema_editor):
    """Who had hours of their own had the same from Monday to Friday; a missing end is the company's."""
    company = apps.get_model("jobs", "Company").objects.filter(pk=1).first()
    usual = (company.work_from_hour, company.work_until_hour) if company else (7, 17)
    rows = apps.get_model("jobs", "StaffProfile").objects.exclude(
        works_from_hour=None, works_until_hour=None
    )
    for profile in rows:
        begins = usual[0] if profile.works_from_hour is None else profile.works_from_hour
        ends = usual[1] if profile.works_until_hour is None else profile.works_until_hour
        if begins < ends:
            for weekday in range(5):
                apps.get_model("jobs", "WorkHours").objects.create(
                    person_id=profile.user_id,
                    weekday=weekday,
                    works_from=time(begins),
                    works_until=time(ends) if ends < 24 else time(23, 59),
                )


def to_the_profile(apps, schema_editor):
    """The whole hours of the first day at work."""
    rows = apps.get_model("jobs", "WorkHours").objects.exclude(works_from=None)
    for hours in rows.order_by("person", "-weekday"):
        apps.get_model("jobs", "StaffProfile").objects.filter(user=hours.person_id).update(
            works_from_hour=hours.works_from.hour, works_until_hour=hours.works_until.hour
        )


class Migration(migrations.Migration):
    """Hours stand for each weekday of a person; those of the profile are taken over."""

    dependencies = [
        ("jobs", "0055_correct_steps_and_waits"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='WorkHours',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('weekday', models.PositiveSmallIntegerField(validators=[django.core.validators.MaxValueValidator(6)])),
                ('works_from', models.TimeField(blank=True, null=True)),
                ('works_until', models.TimeField(blank=True, null=True)),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='hours', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name_plural': 'work hours',
                'ordering': ['person', 'weekday'],
                'constraints': [models.UniqueConstraint(fields=('person', 'weekday'), name='hours_once_a_weekday'), models.CheckConstraint(condition=models.Q(models.Q(('works_from', None), ('works_until', None)), models.Q(('works_from__isnull', False), ('works_until__gt', models.F('works_from'))), _connector='OR'), name='hours_in_order')],
            },
        ),
        migrations.CreateModel(
            name='HistoricalWorkHours',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('weekday', models.PositiveSmallIntegerField(validators=[django.core.validators.MaxValueValidator(6)])),
                ('works_from', models.TimeField(blank=True, null=True)),
                ('works_until', models.TimeField(blank=True, null=True)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('person', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'historical work hours',
                'verbose_name_plural': 'historical work hours',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.RunPython(from_the_profile, to_the_profile),
    ]
