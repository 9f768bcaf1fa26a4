from django.db import migrations
from django.utils import timezone

CONTENT = (
    "name",
    "event",
    "filter",
    "also_on",
    "subject",
    "anchor",
    "offset_days",
    "window_before_days",
    "window_after_days",
    "recurrence",
    "closing",
    "closing_parameters",
    "job_kind",
    "minutes",
    "harm",
    "reason",
    "mark",
)


def keep_what_stands(apps, schema_editor):
    """Each rule as it stands is its first version; every promise of before was read by it."""
    now = timezone.now()
    versions = apps.get_model("jobs", "RuleVersion").objects
    promises = apps.get_model("jobs", "FollowUp").objects
    for rule in apps.get_model("jobs", "FollowUpRule").objects.all():
        said = {name: getattr(rule, name) for name in CONTENT}
        version = versions.create(rule=rule, number=1, kept_at=now, **said)
        promises.filter(rule=rule).update(terms=version)


class Migration(migrations.Migration):
    """Promises in flight get the version that stands now."""

    dependencies = [("jobs", "0032_versions_of_rules")]

    operations = [migrations.RunPython(keep_what_stands, migrations.RunPython.noop)]
