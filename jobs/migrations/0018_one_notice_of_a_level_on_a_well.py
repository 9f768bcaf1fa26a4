from django.db import migrations, models
from django.db.models import Q

ONCE_OPEN = "do_not_use_once_open"


class Migration(migrations.Migration):
    dependencies = [("jobs", "0017_notices_of_wells")]

    operations = [
        migrations.RemoveConstraint("donotuse", ONCE_OPEN),
        migrations.AddConstraint(
            "donotuse",
            models.UniqueConstraint(
                condition=Q(lifted_at=None, well=None), fields=["site", "level"], name=ONCE_OPEN
            ),
        ),
        migrations.AddConstraint(
            "donotuse",
            models.UniqueConstraint(
                condition=Q(lifted_at=None, well__isnull=False),
                fields=["well", "level"],
                name="do_not_use_once_open_on_a_well",
            ),
        ),
        migrations.AddConstraint(
            "donotuse",
            models.CheckConstraint(
                condition=~Q(level="no_use") | Q(well=None), name="do_not_use_oxidant_of_a_house"
            ),
        ),
    ]
