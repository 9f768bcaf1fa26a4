from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    """A final setting may be that of the day alone, with the reason; none was left so before."""

    dependencies = [("jobs", "0043_changes_of_the_company_are_edits")]

    operations = [
        migrations.AddField(
            "dialstep",
            "left_because",
            models.CharField(blank=True, default="", max_length=160),
            preserve_default=False,
        ),
        migrations.AddConstraint(
            "dialstep",
            models.CheckConstraint(
                name="dial_step_left_is_final", condition=Q(left_because="") | Q(is_final=True)
            ),
        ),
    ]
