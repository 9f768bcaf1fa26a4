from django.db import migrations


class Migration(migrations.Migration):
    """Hours are not kept in the profile as well."""

    dependencies = [
        ("jobs", "0056_hours_of_each_weekday"),
    ]

    operations = [
        migrations.RemoveField(
            model_name='historicalstaffprofile',
            name='works_from_hour',
        ),
        migrations.RemoveField(
            model_name='historicalstaffprofile',
            name='works_until_hour',
        ),
        migrations.RemoveField(
            model_name='staffprofile',
            name='works_from_hour',
        ),
        migrations.RemoveField(
            model_name='staffprofile',
            name='works_until_hour',
        ),
    ]
