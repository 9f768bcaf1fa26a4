import django.db.models.deletion
from django.db import migrations, models

CAUSES = [
    ("coliform", "coliform bacteria found"),
    ("ecoli", "E. coli found"),
    ("flood", "the well was flooded"),
    ("opened", "the well was opened or worked on"),
    ("disinfected", "disinfected, sample to come"),
    ("oxidant", "chlorine or another oxidant in the pipes"),
    ("other", "something else"),
]


def cause_of(level, reason):
    if level == "no_use":
        return "oxidant"
    if level == "sample_pending":
        return "disinfected"
    words = reason.lower()
    if "bacteria" in words or "positive" in words:
        return "coliform"
    return "flood" if "flood" in words else "other"


def give_to_the_well(apps, schema_editor):
    """A standing notice about bacteria holds for every house on the well, where there is one well.

    Two that stand at two houses of one well cannot both become its notice: the later one stays
    at its house.
    """
    notices = apps.get_model("jobs", "DoNotUse").objects
    wells = apps.get_model("equipment", "Well").objects
    taken = set()
    for row in notices.order_by("opened_at", "pk"):
        row.cause = cause_of(row.level, row.reason)
        if row.lifted_at is None and row.level != "no_use":
            at_site = wells.filter(models.Q(site=row.site_id) | models.Q(also_serves=row.site_id))
            found = list(at_site.distinct()[:2])
            if len(found) == 1 and (found[0].pk, row.level) not in taken:
                row.well_id = found[0].pk
                taken.add((found[0].pk, row.level))
        row.save(update_fields=["cause", "well"])


class Migration(migrations.Migration):
    """Bacteria belong to the well; a notice says why it was opened."""

    dependencies = [
        ("jobs", "0016_company_evidence_of_bacteria"),
        ("equipment", "0008_told_leaves_the_sample"),
    ]

    operations = [
        migrations.AddField(
            "donotuse",
            "well",
            models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT,
                related_name="+", to="equipment.well",
            ),
        ),
        migrations.AddField(
            "donotuse",
            "cause",
            models.CharField(choices=CAUSES, default="other", max_length=12),
        ),
        migrations.AlterField(
            "donotuse",
            "site",
            models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+",
                to="equipment.site", verbose_name="house it was opened at",
            ),
        ),
        migrations.RunPython(give_to_the_well, migrations.RunPython.noop),
    ]
