from django.conf import settings
from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [
        ("equipment", "0003_who_was_told_of_a_result"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddConstraint(
            "sample",
            models.CheckConstraint(
                name="sample_told_to_somebody_by_somebody",
                condition=Q(told_customer_at=None, told_by=None, told_whom="")
                | (Q(told_customer_at__isnull=False, told_by__isnull=False) & ~Q(told_whom="")),
            ),
        ),
    ]
