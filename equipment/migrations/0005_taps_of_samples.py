import django.db.models.deletion
from django.db import migrations, models
from django.db.models import F

#: how a place is written where taps are words; the rest is the name of the tap
WORDS = {"raw": "raw tap", "tap": "kitchen tap", "hot_tap": "hot tap", "after_stage": "after a part"}


def keep_the_words(apps, schema_editor):
    """What was written stays as it was written; nobody can say now which tap it meant."""
    for name in ("Sample", "HistoricalSample"):
        rows = apps.get_model("equipment", name).objects
        rows.filter(place="").update(place="not noted")
        rows.update(tap_name=F("place"), place="as_written")


def write_the_words(apps, schema_editor):
    for name in ("Sample", "HistoricalSample"):
        rows = apps.get_model("equipment", name).objects
        rows.filter(place__in=["as_written", "other_tap"]).update(place=F("tap_name"))
        for place, words in WORDS.items():
            rows.filter(place=place).update(place=words)


class Migration(migrations.Migration):
    """A bottle is filled at a tap that is chosen, reaches a laboratory, and that is accredited."""

    dependencies = [("equipment", "0004_told_to_somebody_by_somebody")]

    operations = [
        *(
            operation
            for model in ("sample", "historicalsample")
            for operation in (
                migrations.AddField(
                    model,
                    "tap_name",
                    models.CharField(blank=True, max_length=40, verbose_name="name of the tap"),
                ),
                migrations.AddField(
                    model,
                    "received_at",
                    models.DateTimeField(
                        blank=True, null=True, verbose_name="reached the laboratory"
                    ),
                ),
                migrations.AddField(
                    model,
                    "is_accredited",
                    models.BooleanField(
                        null=True, verbose_name="the laboratory is accredited for it"
                    ),
                ),
            )
        ),
        migrations.AddField(
            "sample",
            "place_stage",
            models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT,
                related_name="+", to="equipment.stage",
            ),
        ),
        migrations.AddField(
            "historicalsample",
            "place_stage",
            models.ForeignKey(
                blank=True, null=True, db_constraint=False, related_name="+",
                on_delete=django.db.models.deletion.DO_NOTHING, to="equipment.stage",
            ),
        ),
        migrations.RunPython(keep_the_words, write_the_words),
    ]
