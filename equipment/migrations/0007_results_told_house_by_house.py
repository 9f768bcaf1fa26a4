import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models import Q

HOW = [("telephone", "by telephone"), ("door", "at the house")]


def tell_the_house_of_the_bottle(apps, schema_editor):
    """Who was told lives in the house of the bottle; other houses on its well know nothing."""
    told = apps.get_model("equipment", "ResultTold").objects
    for row in apps.get_model("equipment", "Sample").objects.exclude(told_customer_at=None):
        told.create(
            sample=row, site_id=row.site_id, whom=row.told_whom, how=row.told_how,
            at=row.told_customer_at, by_id=row.told_by_id,
        )


def tell_the_sample(apps, schema_editor):
    for row in apps.get_model("equipment", "ResultTold").objects.select_related("sample"):
        sample = row.sample
        if sample.site_id != row.site_id:
            continue
        sample.told_whom, sample.told_how, sample.told_by_id = row.whom, row.how, row.by_id
        sample.told_customer_at = row.at
        sample.save()


class Migration(migrations.Migration):
    dependencies = [
        ("equipment", "0006_places_of_samples_are_choices"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="ResultTold",
            fields=[
                ("id", models.BigAutoField(
                    auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("whom", models.CharField(max_length=120, verbose_name="adult who was told")),
                ("how", models.CharField(blank=True, choices=HOW, max_length=10)),
                ("at", models.DateTimeField()),
                ("by", models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="+",
                    to=settings.AUTH_USER_MODEL)),
                ("sample", models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="told",
                    to="equipment.sample")),
                ("site", models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="results_told",
                    to="equipment.site")),
            ],
            options={
                "ordering": ["at", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=["sample", "site"], name="result_told_once_a_house"),
                    models.CheckConstraint(
                        condition=~Q(whom=""), name="result_told_to_somebody"),
                ],
            },
        ),
        migrations.RunPython(tell_the_house_of_the_bottle, tell_the_sample),
    ]
