import datetime

from django.db import migrations, models


class Migration(migrations.Migration):
    """When people have lunch: the company's, or their own."""

    dependencies = [
        ("jobs", "0057_hours_in_one_place"),
    ]

    operations = [
        migrations.AddField(
            model_name='company',
            name='lunch_from',
            field=models.TimeField(blank=True, default=datetime.time(12, 0), null=True),
        ),
        migrations.AddField(
            model_name='company',
            name='lunch_until',
            field=models.TimeField(blank=True, default=datetime.time(12, 30), null=True),
        ),
        migrations.AddField(
            model_name='historicalcompany',
            name='lunch_from',
            field=models.TimeField(blank=True, default=datetime.time(12, 0), null=True),
        ),
        migrations.AddField(
            model_name='historicalcompany',
            name='lunch_until',
            field=models.TimeField(blank=True, default=datetime.time(12, 30), null=True),
        ),
        migrations.AddField(
            model_name='historicalstaffprofile',
            name='lunch_from',
            field=models.TimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='historicalstaffprofile',
            name='lunch_until',
            field=models.TimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='staffprofile',
            name='lunch_from',
            field=models.TimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='staffprofile',
            name='lunch_until',
            field=models.TimeField(blank=True, null=True),
        ),
    ]
