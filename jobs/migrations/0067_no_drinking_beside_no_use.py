from django.db import migrations
from django.db.models import Q

NEEDS_SAMPLES = ("coliform", "ecoli", "flood", "opened")


def open_beside(apps, schema_editor):
    notices = apps.get_model("jobs", "DoNotUse").objects
    wells = apps.get_model("equipment", "Well").objects
    standing = notices.filter(level="no_use", cause__in=NEEDS_SAMPLES, lifted_at=None)
    for row in standing.order_by("pk"):
        found = wells.filter(Q(site=row.site_id) | Q(also_serves=row.site_id)).distinct()
        well = found[0] if len(found) == 1 else None
        water = Q(well=well) if well else Q(site=row.site_id, well=None)
        still = Q(lifted_at=None) | Q(lifted_at__gte=row.opened_at)
        if notices.filter(water, still, level="no_drinking").exists():
            continue
        notices.create(
            site_id=row.site_id,
            well=well,
            level="no_drinking",
            cause=row.cause,
            reason=row.reason,
            opened_at=row.opened_at,
            opened_by_id=row.opened_by_id,
            occasion=row.occasion,
        )


class Migration(migrations.Migration):
    """Water that must not be used because of bacteria must not be drunk either."""

    dependencies = [
        ("jobs", "0066_by_which_way_told_before_pouring"),
    ]

    operations = [
        migrations.RunPython(open_beside, migrations.RunPython.noop),
    ]
