from django.db import migrations, models


class Migration(migrations.Migration):
    """A step of the dial-back that could not be read says since when; older ones do not know."""

    dependencies = [("jobs", "0024_no_kept_account_links")]

    operations = [
        migrations.AddField(
            model_name="dialstep",
            name="skipped_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
    ]
