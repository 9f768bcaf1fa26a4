from django.db import migrations, models

from jobs.models.rules import events


class Migration(migrations.Migration):
    """The list of events is asked of the code: a new event is no change of the table."""

    dependencies = [("jobs", "0010_events_that_happen")]

    operations = [
        migrations.AlterField(
            model_name="followuprule",
            name="event",
            field=models.CharField(choices=events, max_length=40),
        ),
        migrations.AlterField(
            model_name="historicalfollowuprule",
            name="event",
            field=models.CharField(choices=events, max_length=40),
        ),
    ]
