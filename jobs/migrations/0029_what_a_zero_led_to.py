from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    """A step says the colour after the filter, and how the dosing pump was found after it."""

    dependencies = [("jobs", "0028_open_jobs")]

    operations = [
        migrations.AddField(
            model_name="dialstep",
            name="colour_gone",
            field=models.BooleanField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="dialstep",
            name="feeder_check",
            field=models.CharField(
                blank=True,
                choices=[("sound", "nothing wrong found"), ("mended", "something put right")],
                default="",
                max_length=6,
            ),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="dialstep",
            name="feeder_checked_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddConstraint(
            model_name="dialstep",
            constraint=models.CheckConstraint(
                name="dial_step_feeder_checked_iff_dated",
                condition=Q(feeder_check="", feeder_checked_at=None)
                | Q(feeder_check__in=("sound", "mended"), feeder_checked_at__isnull=False),
            ),
        ),
    ]
