import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """From here on no promise stands without the version it was made under."""

    dependencies = [("jobs", "0033_what_was_promised_stands")]

    operations = [
        migrations.AlterField(
            model_name="followup",
            name="terms",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="follow_ups",
                to="jobs.ruleversion",
            ),
        ),
    ]
