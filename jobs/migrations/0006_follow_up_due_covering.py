from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    """The index of due work holds all that finding it asks for."""

    dependencies = [("jobs", "0005_answer_once_for_each_part")]

    operations = [
        migrations.RemoveIndex(model_name="followup", name="follow_up_due"),
        migrations.AddIndex(
            model_name="followup",
            index=models.Index(
                condition=Q(status="open"),
                fields=["window_from", "due_on", "status", "snoozed_until"],
                name="follow_up_due",
            ),
        ),
    ]
