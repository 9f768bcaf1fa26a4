from datetime import timedelta

from django.db import migrations
from django.utils import timezone

DAYS = 90
COMPLETING = ("completed", "stable", "adjusted", "defect_found", "no_fault")


def told_lately(apps, schema_editor):
    """Closed visits and start-ups, fills, samples and fitted parts of the last three months.

    Whether a feed was changed and by how much its dose moved is told from here on only.
    """
    now = timezone.now()
    since = now - timedelta(days=DAYS)
    keep = apps.get_model("jobs", "Happening").objects.create
    visits = apps.get_model("jobs", "Visit").objects.filter(status="closed")
    for visit in visits.filter(left_at__gte=since).select_related("job").order_by("left_at"):
        job = visit.job
        facts = {
            "job_kind": job.kind,
            "outcome": visit.outcome,
            "completed": visit.outcome in COMPLETING,
            "is_callback": job.callback_answer == "yes",
        }
        of_visit = {"site_id": job.site_id, "train_id": job.train_id, "visit": visit}
        day = timezone.localtime(visit.left_at).date()
        keep(event="visit_closed", day=day, at=visit.left_at, facts=facts, **of_visit)
    records = apps.get_model("jobs", "ChecklistRecord").objects.filter(status="closed")
    started = records.filter(closed_at__gte=since, template__purpose="startup")
    for record in started.select_related("job"):
        facts = {"job_kind": record.job.kind, "completed": True}
        keep(
            event="startup_closed",
            day=timezone.localtime(record.closed_at).date(),
            at=record.closed_at,
            site_id=record.site_id,
            train_id=record.train_id,
            visit_id=record.closed_in_id,
            facts=facts,
        )
    _equipment(apps, keep, since)


def _equipment(apps, keep, since):
    fills = apps.get_model("equipment", "Fill").objects.filter(at__gte=since)
    for fill in fills.select_related("stage__train"):
        of_part = {"site_id": fill.stage.train.site_id, "train": fill.stage.train}
        day = timezone.localtime(fill.at).date()
        keep(event="fill_recorded", day=day, at=fill.at, stage=fill.stage, **of_part)
    parts = apps.get_model("equipment", "Stage").objects.filter(fitted_on__gte=since.date())
    for part in parts.select_related("train"):
        keep(
            event="stage_fitted",
            day=part.fitted_on,
            at=since,
            site_id=part.train.site_id,
            train=part.train,
            stage=part,
        )
    for sample in apps.get_model("equipment", "Sample").objects.filter(taken_at__gte=since):
        keep(
            event="sample_sent",
            day=timezone.localtime(sample.taken_at).date(),
            at=sample.taken_at,
            site_id=sample.site_id,
            sample=sample,
            facts={"sample_kind": sample.kind},
        )


class Migration(migrations.Migration):
    """A rule can be tried on what happened before events were kept, as far as that can be told."""

    dependencies = [("jobs", "0039_what_happened")]

    operations = [migrations.RunPython(told_lately, migrations.RunPython.noop)]
