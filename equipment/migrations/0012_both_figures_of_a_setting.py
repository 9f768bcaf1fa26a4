from django.db import migrations, models


class Migration(migrations.Migration):
    """A change of a pump setting keeps both figures; older rows keep the share alone."""

    dependencies = [("equipment", "0011_pumps_set_by_two_figures")]

    operations = [
        migrations.AddField("settingchange", name, models.JSONField(blank=True, default=dict))
        for name in ("old_marks", "new_marks")
    ]
