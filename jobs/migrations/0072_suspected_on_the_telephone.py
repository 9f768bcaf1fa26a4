from django.db import migrations
from django.utils import timezone

#: what was told on the telephone and stood as "something else": only samples end it
TOLD = {"ill", "sewage"}
ORDER = {"other": 2, "oxidant": 1}


def suspect(apps, schema_editor):
    calls = apps.get_model("jobs", "PhoneCall").objects.exclude(dangers=[])
    told = [uuid for uuid, keys in calls.values_list("uuid", "dangers") if TOLD & set(keys)]
    notices = apps.get_model("jobs", "DoNotUse").objects
    standing = notices.filter(level="no_drinking", cause="other", lifted_at=None)
    for row in standing.filter(occasion__in=told, reason__startswith="told on the telephone"):
        row.cause = "suspected"
        row.save(update_fields=["cause"])


def as_one(apps, schema_editor):
    """One notice of a level: what stands beside goes into it in words, and none is lost."""
    notices = apps.get_model("jobs", "DoNotUse").objects
    kept = {}
    standing = sorted(
        notices.filter(lifted_at=None), key=lambda row: (ORDER.get(row.cause, 0), row.pk)
    )
    for row in standing:
        of = (row.level, row.well_id, None if row.well_id else row.site_id)
        first = kept.setdefault(of, row)
        if first is row:
            continue
        first.reason = f"{first.reason}; {row.reason}"[:200]
        first.save()
        row.lifted_at, row.lifted_by_id = timezone.now(), row.opened_by_id
        row.lifted_on_reading = f"stands in the notice of {first.opened_at:%Y-%m-%d}"
        row.save()
    notices.filter(cause="suspected").update(cause="other")


class Migration(migrations.Migration):
    """Illness and sewage told on the telephone wait for samples, as they did before."""

    dependencies = [
        ("jobs", "0071_notices_end_by_their_cause"),
    ]

    operations = [
        migrations.RunPython(suspect, as_one),
    ]
