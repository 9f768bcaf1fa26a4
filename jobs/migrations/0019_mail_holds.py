import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("jobs", "0018_one_notice_of_a_level_on_a_well"),
    ]

    operations = [
        migrations.CreateModel(
            name="MailHold",
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
                            ("doubt", "the mail server breaks off"),
                            ("restored", "the database was put back"),
                        ],
                        max_length=8,
                    ),
                ),
                ("begun_at", models.DateTimeField()),
                (
                    "doubts",
                    models.PositiveIntegerField(
                        default=0, verbose_name="messages in a row without an answer"
                    ),
                ),
                ("held_at", models.DateTimeField(blank=True, null=True)),
                ("try_again_at", models.DateTimeField(blank=True, null=True)),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                (
                    "ended_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={"ordering": ["pk"]},
        ),
        migrations.AddConstraint(
            model_name="mailhold",
            constraint=models.UniqueConstraint(
                condition=models.Q(("ended_at", None)),
                fields=("kind",),
                name="mail_hold_one_of_a_kind",
            ),
        ),
        migrations.AddField(
            model_name="outboxmail",
            name="hold",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="mails",
                to="jobs.mailhold",
                verbose_name="the outage in which the doubt about it arose",
            ),
        ),
    ]
