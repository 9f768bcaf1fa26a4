from django.conf import settings
from django.db import migrations, models


def the_clock_of_the_house(apps, schema_editor):
    """What was told so far was told by the clock the house has now."""
    visits = apps.get_model("jobs", "Visit").objects.select_related("job__site")
    for visit in visits.order_by("pk").iterator():
        visit.time_zone = visit.job.site.time_zone or settings.TIME_ZONE
        visit.save(update_fields=["time_zone"])


class Migration(migrations.Migration):
    """A visit keeps by whose clock its hours were told: an edit of the house changes none."""

    dependencies = [("jobs", "0026_stops_are_read_on_each_visit")]

    operations = [
        migrations.AddField(
            model_name="visit",
            name="time_zone",
            field=models.CharField(
                blank=True, default="", max_length=40, verbose_name="clock by which the hours are told"
            ),
        ),
        migrations.RunPython(the_clock_of_the_house, migrations.RunPython.noop),
    ]
