import django.core.validators
from django.db import migrations, models


class Migration(migrations.Migration):
    """How many days before its end a licence is told."""

    dependencies = [
        ('jobs', '0085_licences_are_renewed'),
    ]

    operations = [
        migrations.AddField(
            model_name='company',
            name='licence_lead_days',
            field=models.PositiveSmallIntegerField(default=60, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(366)], verbose_name='days before a licence ends on which it is told'),
        ),
        migrations.AddField(
            model_name='historicalcompany',
            name='licence_lead_days',
            field=models.PositiveSmallIntegerField(default=60, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(366)], verbose_name='days before a licence ends on which it is told'),
        ),
    ]
