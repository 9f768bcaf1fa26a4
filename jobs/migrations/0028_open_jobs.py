from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    """Open jobs are few, and the worklist asks for them at each look."""

    dependencies = [("jobs", "0027_the_clock_told")]

    operations = [
        migrations.AddIndex(
            model_name="job",
            index=models.Index(fields=["id"], name="job_open", condition=Q(status="open")),
        ),
    ]
