from django.db import migrations, models

ONCE = "acknowledged_once"


class Migration(migrations.Migration):
    """A stop is read by name on each visit, so more than once on a record."""

    dependencies = [("jobs", "0025_when_a_step_was_given_up")]

    operations = [
        migrations.RemoveConstraint("acknowledgement", ONCE),
        migrations.AddConstraint(
            "acknowledgement",
            models.UniqueConstraint(fields=["record", "caution", "by", "at"], name=ONCE),
        ),
    ]
