from django.db import migrations, models


class Migration(migrations.Migration):
    """A bypass is said so that nobody reads it the other way round."""

    dependencies = [("jobs", "0047_number_of_poison_help")]

    operations = [
        migrations.AlterField(
            model_name="visit",
            name="bypass_left",
            field=models.CharField(
                blank=True,
                choices=[
                    ("none", "no bypass here"),
                    ("service", "SERVICE (treated)"),
                    ("bypassed", "BYPASS (untreated)"),
                ],
                max_length=10,
            ),
        ),
    ]
