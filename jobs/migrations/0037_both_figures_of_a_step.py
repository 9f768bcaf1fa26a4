from django.db import migrations, models


def take_cycle_from_catalog(apps, schema_editor):
    """Steps of timer pumps in records that are open: the share is known, the cycle is assumed.

    Closed records stay as they were written; there the cycle is said to be unknown.
    """
    stages = apps.get_model("equipment", "Stage").objects.filter(
        kind="feeder", removed_on=None, feed_pump__head="timer", feed_pump__cycle_s__isnull=False
    )
    cycles = dict(stages.values_list("train_id", "feed_pump__cycle_s"))
    steps = apps.get_model("jobs", "DialStep").objects.filter(
        record__status="open", record__train_id__in=cycles
    )
    for step in steps.select_related("record"):
        cycle = cycles[step.record.train_id]
        step.marks = {"cycle_s": cycle, "cycle_from_catalog": True}
        step.save(update_fields=["marks"])


class Migration(migrations.Migration):
    """A step keeps both figures of a pump that is set by two."""

    dependencies = [
        ("jobs", "0036_swing_of_a_timer_pump"),
        ("equipment", "0012_both_figures_of_a_setting"),
    ]

    operations = [
        migrations.AddField("dialstep", "marks", models.JSONField(blank=True, default=dict)),
        migrations.RunPython(take_cycle_from_catalog, migrations.RunPython.noop),
    ]
