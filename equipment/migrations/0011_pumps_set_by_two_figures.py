from django.db import migrations, models

FIELDS = [
    ("cycle_step_s", models.FloatField(default=1.0, verbose_name="one mark of the cycle")),
    (
        "restart",
        models.CharField(
            blank=True,
            choices=[
                ("on", "begins with feeding"),
                ("off", "begins with its pause"),
                ("continues", "goes on where it stopped"),
            ],
            default="",
            max_length=10,
            verbose_name="the timer, as the well pump starts",
        ),
    ),
    (
        "strokes_per_min",
        models.FloatField(blank=True, null=True, verbose_name="fastest, strokes in a minute"),
    ),
    (
        "pulses_per_gal",
        models.FloatField(blank=True, null=True, verbose_name="pulses of its meter for a gallon"),
    ),
]
CHANGED = [
    (
        "cycle_s",
        models.FloatField(blank=True, null=True, verbose_name="longest timer cycle"),
    ),
    (
        "head",
        models.CharField(
            choices=[
                ("variable", "one dial in percent"),
                ("timer", "timer: cycle and share of it"),
                ("stroke", "stroke and speed"),
                ("metered", "pulses of a meter"),
            ],
            default="variable",
            max_length=10,
            verbose_name="set by",
        ),
    ),
]
MODELS = ("feedpump", "historicalfeedpump")


class Migration(migrations.Migration):
    """A pump says by which figures it is set, and what a timer and a meter do."""

    dependencies = [("equipment", "0010_a_source_may_be_a_cistern")]

    operations = [
        *(
            migrations.AddField(model, name, field, preserve_default=name != "restart")
            for model in MODELS
            for name, field in FIELDS
        ),
        *(migrations.AlterField(model, name, field) for model in MODELS for name, field in CHANGED),
    ]
