import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

PERSON = {"on_delete": django.db.models.deletion.PROTECT, "related_name": "+"}


def key():
    return (
        "id",
        models.BigAutoField(
            auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
        ),
    )


class Migration(migrations.Migration):
    """Strips with their expiry; readings that were taken before are in no doubt."""

    dependencies = [
        ("jobs", "0044_left_for_a_recheck"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="StripLot",
            fields=[
                key(),
                (
                    "oxidant",
                    models.CharField(
                        choices=[
                            ("peroxide", "hydrogen peroxide"),
                            ("chlorine", "chlorine"),
                            ("permanganate", "potassium permanganate"),
                        ],
                        max_length=12,
                    ),
                ),
                ("lot", models.CharField(max_length=40, verbose_name="lot on the bottle")),
                ("expires_on", models.DateField(verbose_name="good until")),
                ("entered_at", models.DateTimeField()),
                ("entered_by", models.ForeignKey(to=settings.AUTH_USER_MODEL, **PERSON)),
            ],
            options={
                "ordering": ["-expires_on", "lot"],
                "constraints": [
                    models.UniqueConstraint(fields=("oxidant", "lot"), name="strip_lot_once"),
                    models.CheckConstraint(
                        condition=models.Q(("lot", ""), _negated=True), name="strip_lot_named"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="StripCheck",
            fields=[
                key(),
                ("blank_low_mg_l", models.FloatField(blank=True, null=True)),
                ("blank_high_mg_l", models.FloatField(blank=True, null=True)),
                ("mix_low_mg_l", models.FloatField(blank=True, null=True)),
                ("mix_high_mg_l", models.FloatField(blank=True, null=True)),
                ("at", models.DateTimeField()),
                ("by", models.ForeignKey(to=settings.AUTH_USER_MODEL, **PERSON)),
                (
                    "lot",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="checks",
                        to="jobs.striplot",
                    ),
                ),
                (
                    "record",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="strip_checks",
                        to="jobs.checklistrecord",
                    ),
                ),
            ],
            options={"ordering": ["record", "at", "pk"]},
        ),
        migrations.AddField(
            model_name="dialstep",
            name="doubt",
            field=models.CharField(blank=True, default="", max_length=160),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="dialstep",
            name="strips",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="steps",
                to="jobs.striplot",
            ),
        ),
    ]
