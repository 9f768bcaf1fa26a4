import django.db.models.deletion
from django.db import migrations, models

from jobs.models.rules import events


class Migration(migrations.Migration):
    """Each event of the list is kept, so that a rule can be tried on it."""

    dependencies = [
        ('equipment', '0010_a_source_may_be_a_cistern'),
        ('jobs', '0038_acts_of_technicians'),
    ]

    operations = [
        migrations.CreateModel(
            name='Happening',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('event', models.CharField(choices=events, max_length=40)),
                ('day', models.DateField()),
                ('at', models.DateTimeField()),
                ('facts', models.JSONField(blank=True, default=dict)),
                ('sample', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.sample')),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.site')),
                ('stage', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.stage')),
                ('train', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.train')),
                ('visit', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='jobs.visit')),
            ],
            options={
                'ordering': ['day', 'pk'],
                'indexes': [models.Index(fields=['day', 'event'], name='happening_day')],
            },
        ),
    ]
