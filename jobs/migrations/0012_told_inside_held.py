from datetime import timedelta

from django.db import migrations, models
from django.db.models import F, Q

QUARTER = timedelta(minutes=15)
TO_COME = ["requested", "tentative", "confirmed", "en_route", "on_site"]


def hold_what_was_told(apps, schema_editor):
    """A customer was told hours outside the time held: the time grows, the told hours stay.

    Quarters that another visit holds already stay with it.
    """
    Visit = apps.get_model("jobs", "Visit")
    Slot = apps.get_model("jobs", "TechnicianSlot")
    outside = Q(arrive_from__lt=F("starts_at")) | Q(arrive_until__gt=F("ends_at"))
    for visit in Visit.objects.filter(outside, status__in=TO_COME).order_by("pk"):
        visit.starts_at = min(visit.starts_at, visit.arrive_from)
        visit.ends_at = max(visit.ends_at, visit.arrive_until)
        visit.save(update_fields=["starts_at", "ends_at"])
        if visit.status == "on_site":
            continue
        for person in filter(None, (visit.lead_id, visit.helper_id)):
            at = visit.starts_at.replace(
                minute=visit.starts_at.minute // 15 * 15, second=0, microsecond=0
            )
            while at < visit.ends_at:
                Slot.objects.get_or_create(
                    technician_id=person, quarter_at=at, defaults={"visit": visit}
                )
                at += QUARTER


class Migration(migrations.Migration):
    """The hours a customer is told lie inside the time that is held for the visit."""

    dependencies = [("jobs", "0011_events_from_the_code")]

    operations = [
        migrations.RunPython(hold_what_was_told, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="visit",
            constraint=models.CheckConstraint(
                condition=Q(status__in=["closed", "cancelled"])
                | Q(arrive_from__gte=F("starts_at"), arrive_until__lte=F("ends_at")),
                name="visit_told_inside_held",
            ),
        ),
    ]
