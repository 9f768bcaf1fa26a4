import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def keep_what_is_poured(apps, schema_editor):
    """A contact that runs or ran in an open record: its chlorine is in, who was told is unknown."""
    poured = apps.get_model("jobs", "PourTold").objects
    timers = apps.get_model("jobs", "Timer").objects.filter(line_key="contact")
    for timer in timers.filter(record__status="open").select_related("record"):
        poured.create(
            record=timer.record, site_id=timer.record.site_id, whom="not noted",
            at=timer.started_at, by_id=timer.by_id,
        )


class Migration(migrations.Migration):
    """Chlorine goes in by an act of its own, ahead of the contact time."""

    dependencies = [
        ("jobs", "0020_who_was_told_of_a_visit"),
        ("equipment", "0008_told_leaves_the_sample"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="PourTold",
            fields=[
                ("id", models.BigAutoField(
                    auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("whom", models.CharField(
                    blank=True, max_length=120, verbose_name="adult who was told")),
                ("at", models.DateTimeField(verbose_name="poured")),
                ("by", models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="+",
                    to=settings.AUTH_USER_MODEL)),
                ("record", models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="poured",
                    to="jobs.checklistrecord")),
                ("site", models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="+",
                    to="equipment.site")),
            ],
            options={
                "ordering": ["record", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=["record", "site"], name="poured_once_a_house")
                ],
            },
        ),
        migrations.RunPython(keep_what_is_poured, migrations.RunPython.noop),
    ]
