import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models import Q

CANCEL, MOVE = "Asks to cancel the visit", "Asks for another time"
TO_COME = ["requested", "tentative", "confirmed", "en_route", "on_site"]


def rows_of_what_was_asked(apps, schema_editor):
    """The one wish a visit could hold becomes a row; letters that wait name it."""
    Visit, Request = apps.get_model("jobs", "Visit"), apps.get_model("jobs", "VisitRequest")
    Mail = apps.get_model("jobs", "OutboxMail")
    for visit in Visit.objects.exclude(move_asked_at=None).order_by("pk"):
        kind = "cancel" if visit.move_asked_note.startswith(CANCEL) else "move"
        note = visit.move_asked_note.partition(": ")[2]
        over = visit.status not in TO_COME
        request = Request.objects.create(
            visit=visit,
            kind=kind,
            note=note[:200],
            at=visit.move_asked_at,
            handled_at=visit.closed_at or visit.move_asked_at if over else None,
            handled_by_id=visit.closed_by_id or visit.booked_by_id if over else None,
            handled_how="the visit is over" if over else "",
        )
        for mail in Mail.objects.filter(visit=visit, template="customer_asks"):
            mail.context |= {"request": request.pk}
            mail.save(update_fields=["context"])
    _skip_what_names_no_request(Mail)


def _skip_what_names_no_request(Mail):
    """An answer that was taken back since: its letter is not needed."""
    unsent = Mail.objects.filter(template="customer_asks").exclude(state="sent")
    for mail in unsent:
        if "request" not in mail.context:
            mail.state, mail.token, mail.lease_until = "skipped", "", None
            mail.last_error = "The question has been answered."
            mail.save(update_fields=["state", "token", "lease_until", "last_error"])


def the_newest_into_the_visit(apps, schema_editor):
    """Back: a visit holds its newest open wish."""
    for request in apps.get_model("jobs", "VisitRequest").objects.filter(handled_at=None):
        visit = request.visit
        said = CANCEL if request.kind == "cancel" else MOVE
        visit.move_asked_at = request.at
        visit.move_asked_note = f"{said}: {request.note}" if request.note else f"{said}."
        visit.save(update_fields=["move_asked_at", "move_asked_note"])


class Migration(migrations.Migration):
    """What customers ask about a visit: a row for each request, handled by a name."""

    dependencies = [
        ("jobs", "0020_who_was_told_of_a_visit"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="VisitRequest",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("move", "asks for another time"),
                            ("cancel", "asks to cancel the visit"),
                        ],
                        max_length=8,
                    ),
                ),
                ("note", models.CharField(blank=True, max_length=200)),
                ("at", models.DateTimeField()),
                ("handled_at", models.DateTimeField(blank=True, null=True)),
                ("handled_how", models.CharField(blank=True, max_length=200)),
                (
                    "handled_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "visit",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="requests",
                        to="jobs.visit",
                    ),
                ),
            ],
            options={
                "ordering": ["at", "pk"],
                "indexes": [
                    models.Index(
                        condition=Q(handled_at=None), fields=["visit"], name="request_open"
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=Q(handled_at=None, handled_by=None, handled_how="")
                        | (
                            Q(handled_at__isnull=False, handled_by__isnull=False)
                            & ~Q(handled_how="")
                        ),
                        name="request_handled_by_a_name",
                    )
                ],
            },
        ),
        migrations.RunPython(rows_of_what_was_asked, the_newest_into_the_visit),
    ]
