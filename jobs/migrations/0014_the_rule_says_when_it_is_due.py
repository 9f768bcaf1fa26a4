from django.db import migrations


class Migration(migrations.Migration):
    """The rule of a promise says when it is due; a second count of days was read by nobody."""

    dependencies = [("jobs", "0013_promises_are_about_houses")]

    operations = [
        migrations.RemoveField(model_name="company", name="dispatcher_told_after_days"),
        migrations.RemoveField(model_name="historicalcompany", name="dispatcher_told_after_days"),
    ]
