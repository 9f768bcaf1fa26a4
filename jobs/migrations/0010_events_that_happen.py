from django.db import migrations, models

EVENTS = [
    ("startup_closed", "a start-up is closed"),
    ("feeder_left_on", "a visit leaves a feeder on"),
    ("setting_changed", "a setting is changed"),
    ("fill_recorded", "a fill is recorded"),
    ("stage_fitted", "a part is fitted"),
    ("visit_closed", "a visit is closed"),
    ("sample_sent", "a sample is sent"),
    ("result_entered", "a result is entered"),
    ("occupant_changed", "the house changes hands"),
]


def put_out_of_force(apps, schema_editor):
    """Rules of the event that never happened have promised nothing; now they say so."""
    rules = apps.get_model("jobs", "FollowUpRule").objects
    rules.filter(event="date_reached").update(is_active=False)


class Migration(migrations.Migration):
    """Nothing raises "a day is reached": it leaves the list of events."""

    dependencies = [("jobs", "0009_search_words")]

    operations = [
        migrations.RunPython(put_out_of_force, migrations.RunPython.noop),
        migrations.AlterField(
            model_name="followuprule",
            name="event",
            field=models.CharField(choices=EVENTS, max_length=18),
        ),
        migrations.AlterField(
            model_name="historicalfollowuprule",
            name="event",
            field=models.CharField(choices=EVENTS, max_length=18),
        ),
    ]
