import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    """Calls that were taken; nothing of older calls is known."""

    dependencies = [
        ("equipment", "0017_the_number_called"),
        ("jobs", "0067_no_drinking_beside_no_use"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="PhoneCall",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("at", models.DateTimeField()),
                ("caller", models.CharField(blank=True, max_length=120)),
                (
                    "number",
                    models.CharField(blank=True, max_length=30, verbose_name="call back at"),
                ),
                ("words", models.TextField(blank=True, verbose_name="in the caller's words")),
                ("dangers", models.JSONField(blank=True, default=list)),
                (
                    "asked_all",
                    models.BooleanField(default=False, verbose_name="all red questions were asked"),
                ),
                ("read_out_at", models.DateTimeField(blank=True, null=True)),
                (
                    "end",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("", "not finished"),
                            ("visit", "a visit was booked"),
                            ("note", "a note, no visit"),
                        ],
                        default="",
                        max_length=6,
                    ),
                ),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                ("answer_by", models.DateField(blank=True, null=True, verbose_name="answered by")),
                ("answered_at", models.DateTimeField(blank=True, null=True)),
                (
                    "answer",
                    models.CharField(blank=True, max_length=400, verbose_name="what was said"),
                ),
                ("taken_back_at", models.DateTimeField(blank=True, null=True)),
                ("taken_back_why", models.CharField(blank=True, max_length=200)),
                ("typed", models.JSONField(blank=True, default=dict)),
                (
                    "answered_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "answerer",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "customer",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="calls",
                        to="jobs.customer",
                    ),
                ),
                (
                    "read_out_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="equipment.site",
                    ),
                ),
                (
                    "taken_back_by",
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
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="calls",
                        to="jobs.visit",
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "indexes": [
                    models.Index(fields=["site", "-at"], name="call_site"),
                    models.Index(fields=["customer", "-at"], name="call_customer"),
                    models.Index(fields=["-at"], name="call_newest"),
                    models.Index(
                        condition=models.Q(("answered_at", None), ("taken_back_at", None)),
                        fields=["answer_by"],
                        name="call_waiting",
                    ),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("end", ""), ("ended_at", None), ("visit", None)),
                            models.Q(
                                ("end", "visit"),
                                ("ended_at__isnull", False),
                                ("visit__isnull", False),
                            ),
                            models.Q(
                                ("answer_by__isnull", False),
                                ("end", "note"),
                                ("ended_at__isnull", False),
                                ("visit", None),
                            ),
                            _connector="OR",
                        ),
                        name="call_ends_as_it_says",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("answer", ""), ("answered_at", None), ("answered_by", None)),
                            models.Q(
                                ("answered_at__isnull", False),
                                ("answered_by__isnull", False),
                                models.Q(("answer", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="call_answered_by_a_name",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("taken_back_at", None),
                                ("taken_back_by", None),
                                ("taken_back_why", ""),
                            ),
                            models.Q(
                                ("taken_back_at__isnull", False),
                                ("taken_back_by__isnull", False),
                                models.Q(("taken_back_why", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="call_taken_back_by_a_name",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("read_out_at", None), ("read_out_by", None)),
                            models.Q(
                                ("read_out_at__isnull", False), ("read_out_by__isnull", False)
                            ),
                            _connector="OR",
                        ),
                        name="call_read_out_by_a_name",
                    ),
                ],
            },
        ),
    ]
