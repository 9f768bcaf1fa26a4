"""One answer of a line for each part on both databases; SQLite knows no "nulls distinct"."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0004_job_index_day")]

    operations = [
        migrations.RemoveConstraint(model_name="answer", name="answer_once"),
        migrations.AddConstraint(
            model_name="answer",
            constraint=models.UniqueConstraint(
                condition=models.Q(("stage__isnull", False)),
                fields=("record", "line_key", "side", "stage"),
                name="answer_once",
            ),
        ),
    ]
