from django.db import migrations, models


class Migration(migrations.Migration):
    """A newer version of a record may put a step of the dial-back or a wait right."""

    dependencies = [("jobs", "0054_who_decided_that_a_letter_was_seen")]

    operations = [
        migrations.AddField(
            model_name="recordcorrection",
            name="step",
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="recordcorrection",
            name="figures",
            field=models.JSONField(blank=True, default=dict),
        ),
    ]
