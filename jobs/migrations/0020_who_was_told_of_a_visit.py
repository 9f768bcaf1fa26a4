import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models import Q

TELLING = ["visit_confirmation", "visit_moved", "visit_reminder", "visit_cancelled"]


def letters_that_went(apps, schema_editor):
    """What was sent of a visit as it stands now was told; older letters told another time."""
    Mail, Told = apps.get_model("jobs", "OutboxMail"), apps.get_model("jobs", "VisitTold")
    sent = Mail.objects.filter(state="sent", template__in=TELLING, visit__isnull=False)
    for mail in sent.select_related("visit").order_by("pk").iterator():
        if mail.context.get("sequence") == mail.visit.sequence:
            Told.objects.create(
                visit=mail.visit,
                sequence=mail.visit.sequence,
                how="mail",
                at=mail.sent_at,
                mail=mail,
                arrive_from=mail.visit.arrive_from,
                arrive_until=mail.visit.arrive_until,
                lead_id=mail.visit.lead_id,
            )


def what_waits_says_what_it_tells(apps, schema_editor):
    """Letters that are still to go carry the hours and the person they tell."""
    waiting = apps.get_model("jobs", "OutboxMail").objects.exclude(state__in=["sent", "skipped"])
    for mail in waiting.filter(template__in=TELLING, visit__isnull=False).select_related("visit"):
        mail.context |= {
            "from": mail.visit.arrive_from.isoformat(),
            "until": mail.visit.arrive_until.isoformat(),
            "lead": mail.visit.lead_id,
        }
        mail.save(update_fields=["context"])


class Migration(migrations.Migration):
    """Who was told of a visit: a row for each telling."""

    dependencies = [
        ("jobs", "0019_mail_holds"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="VisitTold",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("sequence", models.PositiveIntegerField()),
                (
                    "how",
                    models.CharField(
                        choices=[
                            ("mail", "by mail"),
                            ("telephone", "by telephone"),
                            ("answer", "by our letter, which was answered"),
                        ],
                        max_length=10,
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "whom",
                    models.CharField(
                        blank=True, max_length=120, verbose_name="adult who was told"
                    ),
                ),
                (
                    "number",
                    models.CharField(blank=True, max_length=30, verbose_name="number called"),
                ),
                (
                    "read_back",
                    models.BooleanField(default=False, verbose_name="they said it back"),
                ),
                ("arrive_from", models.DateTimeField()),
                ("arrive_until", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "lead",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "mail",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="telling",
                        to="jobs.outboxmail",
                    ),
                ),
                (
                    "visit",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tellings",
                        to="jobs.visit",
                    ),
                ),
            ],
            options={
                "ordering": ["at", "pk"],
                "indexes": [
                    models.Index(fields=["visit", "sequence"], name="visit_told_of")
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=Q(how="mail", mail__isnull=False, by=None)
                        | Q(how="answer", mail=None, by=None)
                        | (
                            Q(how="telephone", mail=None, by__isnull=False, read_back=True)
                            & ~Q(whom="")
                            & ~Q(number="")
                        ),
                        name="visit_told_as_its_way_asks",
                    )
                ],
            },
        ),
        migrations.RunPython(letters_that_went, migrations.RunPython.noop),
        migrations.RunPython(what_waits_says_what_it_tells, migrations.RunPython.noop),
    ]
