import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    """Bacteria of a well that treatment keeps from the taps of one house; none was held before."""

    dependencies = [
        ('equipment', '0013_tanks_side_by_side'),
        ('jobs', '0049_set_against_a_rule'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='HeldByTreatment',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('alarm', models.CharField(choices=[('shuts', 'shuts the water off by itself'), ('sounds', 'sounds or lights where the household notices it')], max_length=6, verbose_name='what warns when it stops')),
                ('alarm_tested_on', models.DateField(verbose_name='day the alarm was made to go')),
                ('whom', models.CharField(max_length=120, verbose_name='adult who was told')),
                ('how', models.CharField(choices=[('telephone', 'by telephone'), ('door', 'at the house')], max_length=10)),
                ('at', models.DateTimeField()),
                ('raised_at', models.DateTimeField(blank=True, null=True)),
                ('raised_why', models.CharField(blank=True, choices=[('power', 'the power was off'), ('bypass', 'the system was bypassed'), ('alarm', 'its alarm went'), ('off', 'the dosing pump was left off'), ('parts', 'a part of the treatment was taken out or replaced'), ('found', 'bacteria were found after the treatment'), ('graver', 'something graver was found in the well'), ('other', 'something else')], max_length=6)),
                ('raised_note', models.CharField(blank=True, max_length=200)),
                ('raised_whom', models.CharField(blank=True, max_length=120)),
                ('raised_how', models.CharField(blank=True, choices=[('telephone', 'by telephone'), ('door', 'at the house')], max_length=10)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('notice', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='held', to='jobs.donotuse')),
                ('raised_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('sample', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.sample')),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.site')),
                ('train', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.train')),
            ],
            options={
                'ordering': ['at', 'pk'],
                'constraints': [models.UniqueConstraint(condition=models.Q(('raised_at', None)), fields=('notice', 'site'), name='held_by_treatment_once_at_a_house'), models.CheckConstraint(condition=models.Q(('whom', ''), _negated=True), name='held_by_treatment_told'), models.CheckConstraint(condition=models.Q(models.Q(('raised_at', None), ('raised_by', None), ('raised_why', '')), models.Q(('raised_at__isnull', False), ('raised_by__isnull', False), models.Q(('raised_why', ''), _negated=True)), _connector='OR'), name='held_by_treatment_raised_by_someone')],
            },
        ),
    ]
