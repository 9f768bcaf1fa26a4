import django.core.validators
from django.db import migrations, models


class Migration(migrations.Migration):
    """How far the company lets the dose of a timer pump swing."""

    dependencies = [("jobs", "0035_photos_and_their_pictures")]

    operations = [
        migrations.AddField(
            model,
            "dose_swing_percent",
            models.FloatField(
                default=25,
                validators=[
                    django.core.validators.MinValueValidator(1),
                    django.core.validators.MaxValueValidator(100),
                ],
                verbose_name="dose of a timer pump, largest swing from its mean",
            ),
        )
        for model in ("company", "historicalcompany")
    ]
