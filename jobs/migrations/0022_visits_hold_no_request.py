from django.db import migrations


class Migration(migrations.Migration):
    """The one wish of a visit is a row of its own by now."""

    dependencies = [("jobs", "0021_requests_of_customers")]

    operations = [
        migrations.RemoveField(model_name="visit", name="move_asked_at"),
        migrations.RemoveField(model_name="visit", name="move_asked_note"),
    ]
