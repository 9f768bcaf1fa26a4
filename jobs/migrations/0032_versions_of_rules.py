import django.db.models.deletion
import django.utils.timezone
from django.db import migrations, models

from jobs.models.rules import events

SUBJECTS = [
    ("site", "the house"),
    ("train", "the system"),
    ("stage", "one part"),
    ("sample", "the sample"),
    ("job", "the job"),
]
ANCHORS = [
    ("event_day", "the day of the event plus the offset"),
    ("refill_forecast", "20 percent level, solution age or company cap"),
    ("run_end", "last fifth of a wash run, three to six weeks on"),
]
CLOSINGS = [
    ("visit_closed_with", "a visit closed with the right work"),
    ("fill_recorded", "a fill"),
    ("result_entered", "a result entered"),
    ("acknowledged", "a named person"),
]
HARMS = [
    (1, "no drinking"),
    (2, "unread positive result"),
    (3, "feeder left on without a recheck"),
    (4, "recheck of the oxidant setting"),
    (5, "refill"),
    (6, "wash or regeneration interval"),
    (7, "annual test"),
    (8, "other"),
]


class Migration(migrations.Migration):
    """What a rule said is kept at each saving, and a promise points at what was said then."""

    dependencies = [("jobs", "0031_figures_on_file_stand_for_an_answer")]

    operations = [
        migrations.CreateModel(
            name="RuleVersion",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=80)),
                ("event", models.CharField(choices=events, max_length=40)),
                ("filter", models.JSONField(blank=True, default=dict)),
                ("also_on", models.JSONField(blank=True, default=list)),
                (
                    "subject",
                    models.CharField(choices=SUBJECTS, default="train", max_length=8),
                ),
                (
                    "anchor",
                    models.CharField(choices=ANCHORS, default="event_day", max_length=20),
                ),
                ("offset_days", models.IntegerField(default=0)),
                ("window_before_days", models.PositiveSmallIntegerField(default=0)),
                ("window_after_days", models.PositiveSmallIntegerField(default=0)),
                ("recurrence", models.JSONField(blank=True, default=dict)),
                ("closing", models.CharField(choices=CLOSINGS, max_length=18)),
                ("closing_parameters", models.JSONField(blank=True, default=dict)),
                ("job_kind", models.CharField(blank=True, max_length=10)),
                ("minutes", models.PositiveSmallIntegerField(default=60)),
                ("harm", models.PositiveSmallIntegerField(choices=HARMS, default=8)),
                ("reason", models.CharField(max_length=200, verbose_name="why, as shown")),
                ("mark", models.CharField(default="PRACTICE", max_length=10)),
                ("number", models.PositiveSmallIntegerField()),
                ("kept_at", models.DateTimeField(
                        default=django.utils.timezone.now, verbose_name="since when it said so"
                    )),
                (
                    "rule",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="versions",
                        to="jobs.followuprule",
                    ),
                ),
            ],
            options={
                "ordering": ["rule", "number"],
                "constraints": [
                    models.UniqueConstraint(fields=["rule", "number"], name="rule_version_once")
                ],
            },
        ),
        migrations.AddField(
            model_name="followup",
            name="terms",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="follow_ups",
                to="jobs.ruleversion",
            ),
        ),
    ]
