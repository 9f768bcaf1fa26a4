from django.db import migrations, models


class Migration(migrations.Migration):
    """A setting that fed already is kept, with the rule it was against."""

    dependencies = [("jobs", "0048_how_a_bypass_was_left")]

    operations = [
        migrations.AddField(
            model_name="dialstep",
            name="against",
            field=models.CharField(
                "against which rule it was set", blank=True, max_length=300
            ),
        ),
    ]
