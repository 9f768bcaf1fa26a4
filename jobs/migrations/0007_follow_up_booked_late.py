from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    """The list of due work asks for booked promises past their window too."""

    dependencies = [("jobs", "0006_follow_up_due_covering")]

    operations = [
        migrations.AddIndex(
            model_name="followup",
            index=models.Index(
                condition=Q(status="booked"),
                fields=["window_until", "status"],
                name="follow_up_booked_late",
            ),
        ),
    ]
