import django.db.models.deletion
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    """Phones of technicians, and those that were lost."""

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("jobs", "0050_held_by_treatment"),
    ]

    operations = [
        migrations.CreateModel(
            name="Phone",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.UUIDField(default=uuid.uuid4, unique=True)),
                ("first_heard_at", models.DateTimeField()),
                ("heard_at", models.DateTimeField(verbose_name="last heard of")),
                (
                    "waiting",
                    models.PositiveIntegerField(
                        default=0, verbose_name="entries not sent when it was heard of"
                    ),
                ),
                ("lost_at", models.DateTimeField(blank=True, null=True)),
                ("entries_lost", models.PositiveIntegerField(default=0)),
                (
                    "wiped_at",
                    models.DateTimeField(
                        blank=True, null=True, verbose_name="told to forget everything"
                    ),
                ),
                (
                    "lost_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="phones",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-heard_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("lost_at", None), ("lost_by", None), ("wiped_at", None)
                        )
                        | models.Q(("lost_at__isnull", False), ("lost_by__isnull", False)),
                        name="phone_lost_by_somebody",
                    ),
                ],
            },
        ),
    ]
