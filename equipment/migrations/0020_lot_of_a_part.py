from django.db import migrations, models

SERIAL = models.CharField(blank=True, max_length=60, verbose_name='serial number')
LOT = models.CharField(blank=True, default='', max_length=60, verbose_name='lot or batch')


class Migration(migrations.Migration):
    """A part has the lot it was made in beside its serial number."""

    dependencies = [
        ('equipment', '0019_results_told_person_by_person'),
    ]

    operations = [
        migrations.AlterField(model_name='historicalstage', name='serial', field=SERIAL.clone()),
        migrations.AlterField(model_name='stage', name='serial', field=SERIAL.clone()),
        migrations.AddField(
            model_name='historicalstage', name='lot', field=LOT.clone(), preserve_default=False
        ),
        migrations.AddField(
            model_name='stage', name='lot', field=LOT.clone(), preserve_default=False
        ),
    ]
