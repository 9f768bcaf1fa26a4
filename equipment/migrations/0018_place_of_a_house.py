import django.core.validators
from django.db import migrations, models


class Migration(migrations.Migration):
    """Where a house stands, for the minutes of driving; none is known before."""

    dependencies = [
        ('equipment', '0017_the_number_called'),
    ]

    operations = [
        migrations.AddField(
            model_name='historicalsite',
            name='latitude',
            field=models.FloatField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(-90), django.core.validators.MaxValueValidator(90)]),
        ),
        migrations.AddField(
            model_name='historicalsite',
            name='longitude',
            field=models.FloatField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(-180), django.core.validators.MaxValueValidator(180)]),
        ),
        migrations.AddField(
            model_name='site',
            name='latitude',
            field=models.FloatField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(-90), django.core.validators.MaxValueValidator(90)]),
        ),
        migrations.AddField(
            model_name='site',
            name='longitude',
            field=models.FloatField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(-180), django.core.validators.MaxValueValidator(180)]),
        ),
        migrations.AddConstraint(
            model_name='site',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('latitude', None), ('longitude', None)), models.Q(('latitude__isnull', False), ('longitude__isnull', False)), _connector='OR'), name='site_place_whole'),
        ),
    ]
