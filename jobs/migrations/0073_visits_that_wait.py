import datetime
import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    """What a visit waits for, and when the laboratory takes samples."""

    dependencies = [
        ('equipment', '0018_place_of_a_house'),
        ('jobs', '0072_suspected_on_the_telephone'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='company',
            name='laboratory_drive_min',
            field=models.PositiveSmallIntegerField(default=60, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(600)], verbose_name='from the tap to the laboratory, minutes'),
        ),
        migrations.AddField(
            model_name='company',
            name='laboratory_from',
            field=models.TimeField(default=datetime.time(8, 0), verbose_name='takes samples from'),
        ),
        migrations.AddField(
            model_name='company',
            name='laboratory_until',
            field=models.TimeField(default=datetime.time(16, 0), verbose_name='takes samples until'),
        ),
        migrations.AddField(
            model_name='company',
            name='laboratory_weekdays',
            field=models.CharField(default='01234', max_length=7, verbose_name='the laboratory takes samples on'),
        ),
        migrations.AddField(
            model_name='historicalcompany',
            name='laboratory_drive_min',
            field=models.PositiveSmallIntegerField(default=60, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(600)], verbose_name='from the tap to the laboratory, minutes'),
        ),
        migrations.AddField(
            model_name='historicalcompany',
            name='laboratory_from',
            field=models.TimeField(default=datetime.time(8, 0), verbose_name='takes samples from'),
        ),
        migrations.AddField(
            model_name='historicalcompany',
            name='laboratory_until',
            field=models.TimeField(default=datetime.time(16, 0), verbose_name='takes samples until'),
        ),
        migrations.AddField(
            model_name='historicalcompany',
            name='laboratory_weekdays',
            field=models.CharField(default='01234', max_length=7, verbose_name='the laboratory takes samples on'),
        ),
        migrations.CreateModel(
            name='LaboratoryDay',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField(unique=True)),
                ('name', models.CharField(max_length=80, verbose_name='why')),
                ('entered_at', models.DateTimeField()),
                ('entered_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['day'],
            },
        ),
        migrations.CreateModel(
            name='VisitWait',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('gap', 'days after another visit'), ('result', 'the result of a sample')], max_length=6)),
                ('days', models.PositiveSmallIntegerField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(365)])),
                ('at', models.DateTimeField()),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('ended_why', models.CharField(blank=True, max_length=200, verbose_name='why it waits no more')),
                ('after', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='waited_for', to='jobs.visit')),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('ended_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('sample', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.sample')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='waits', to='jobs.visit')),
            ],
            options={
                'ordering': ['at', 'pk'],
                'constraints': [models.UniqueConstraint(condition=models.Q(('ended_at', None)), fields=('visit', 'kind'), name='visit_waits_once_of_a_kind'), models.CheckConstraint(condition=models.Q(models.Q(('after__isnull', False), ('days__isnull', False), ('kind', 'gap'), ('sample', None)), models.Q(('after__isnull', False), ('days', None), ('kind', 'result'), ('sample', None)), models.Q(('after', None), ('days', None), ('kind', 'result'), ('sample__isnull', False)), _connector='OR'), name='visit_waits_for_something'), models.CheckConstraint(condition=models.Q(models.Q(('ended_at', None), ('ended_by', None), ('ended_why', '')), models.Q(('ended_at__isnull', False), ('ended_by__isnull', False), models.Q(('ended_why', ''), _negated=True)), _connector='OR'), name='visit_wait_ended_by_someone')],
            },
        ),
    ]
