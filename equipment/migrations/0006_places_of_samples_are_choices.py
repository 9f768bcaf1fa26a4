from django.db import migrations, models
from django.db.models import Q

PLACES = [
    ("raw", "raw tap, before any treatment"),
    ("after_stage", "after a part of the system"),
    ("tap", "kitchen tap, cold"),
    ("hot_tap", "hot tap"),
    ("other_tap", "another tap, by its name"),
    ("as_written", "as written"),
]
KINDS = [
    ("bacteria", "bacteria"),
    ("annual", "annual test"),
    ("survey", "survey"),
    ("fuel", "fuel and chemicals"),
    ("other", "other"),
]
OUTCOMES = [
    ("waiting", "waiting for the laboratory"),
    ("negative", "negative"),
    ("positive", "positive: coliform, no E. coli"),
    ("ecoli", "positive: E. coli"),
    ("results", "results entered"),
    ("spoiled", "not usable"),
]


def of_both(name, field):
    return [migrations.AlterField(model, name, field) for model in ("sample", "historicalsample")]


class Migration(migrations.Migration):
    dependencies = [("equipment", "0005_taps_of_samples")]

    operations = [
        *of_both(
            "place",
            models.CharField(choices=PLACES, max_length=12, verbose_name="where it was taken"),
        ),
        *of_both("kind", models.CharField(choices=KINDS, max_length=10)),
        *of_both(
            "outcome", models.CharField(choices=OUTCOMES, default="waiting", max_length=10)
        ),
        migrations.AddConstraint(
            "sample",
            models.CheckConstraint(
                name="sample_after_a_named_part",
                condition=Q(place="after_stage", place_stage__isnull=False)
                | (~Q(place="after_stage") & Q(place_stage=None)),
            ),
        ),
        migrations.AddConstraint(
            "sample",
            models.CheckConstraint(
                name="sample_at_a_named_tap",
                condition=~Q(place__in=["other_tap", "as_written"]) | ~Q(tap_name=""),
            ),
        ),
    ]
