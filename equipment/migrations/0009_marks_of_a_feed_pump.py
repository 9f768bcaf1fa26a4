from django.db import migrations, models


class Migration(migrations.Migration):
    """The smallest change a feed pump can be set to; one percent where nobody said."""

    dependencies = [("equipment", "0008_told_leaves_the_sample")]

    operations = [
        migrations.AddField(
            model_name=model,
            name="setting_step_percent",
            field=models.FloatField(default=1.0, verbose_name="one mark of the setting"),
        )
        for model in ("feedpump", "historicalfeedpump")
    ]
