import django.core.validators
from django.db import migrations, models

FIELDS = [
    (
        "negatives_needed",
        models.PositiveSmallIntegerField(
            default=2,
            validators=[
                django.core.validators.MinValueValidator(1),
                django.core.validators.MaxValueValidator(4),
            ],
            verbose_name="negative samples that lift “do not drink”",
        ),
    ),
    (
        "negatives_days_apart",
        models.PositiveSmallIntegerField(default=2, verbose_name="days between them"),
    ),
    (
        "sample_wait_days",
        models.PositiveSmallIntegerField(
            default=5,
            validators=[django.core.validators.MinValueValidator(2)],
            verbose_name="days of use between chlorine and a bacteria sample",
        ),
    ),
    (
        "ecoli_wait_days",
        models.PositiveSmallIntegerField(
            default=7,
            validators=[django.core.validators.MinValueValidator(2)],
            verbose_name="after E. coli: days after the chlorine, and between samples",
        ),
    ),
    (
        "one_negative_is_enough",
        models.BooleanField(
            default=False,
            verbose_name="the state accepts one negative where nothing was found for twelve months",
        ),
    ),
]


class Migration(migrations.Migration):
    dependencies = [("jobs", "0015_work_of_the_night")]

    operations = [
        migrations.AddField(model, name, field)
        for model in ("company", "historicalcompany")
        for name, field in FIELDS
    ]
