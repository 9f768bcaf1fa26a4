import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

HOW = [("telephone", "by telephone"), ("door", "at the house")]


def name_the_reader(apps, schema_editor):
    """Who entered a result and ticked "told" had told it; whom, was not asked."""
    for row in apps.get_model("equipment", "Sample").objects.exclude(told_customer_at=None):
        row.told_by_id, row.told_whom = row.read_by_id or row.taken_by_id, "not noted"
        row.save(update_fields=["told_by", "told_whom"])


class Migration(migrations.Migration):
    dependencies = [
        ("equipment", "0002_well_and_train_version"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        *(
            operation
            for model in ("sample", "historicalsample")
            for operation in (
                migrations.AddField(
                    model,
                    "told_whom",
                    models.CharField(blank=True, max_length=120, verbose_name="adult who was told"),
                    preserve_default=True,
                ),
                migrations.AddField(
                    model, "told_how", models.CharField(blank=True, choices=HOW, max_length=10)
                ),
            )
        ),
        migrations.AddField(
            "sample",
            "told_by",
            models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT,
                related_name="+", to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            "historicalsample",
            "told_by",
            models.ForeignKey(
                blank=True, null=True, db_constraint=False, related_name="+",
                on_delete=django.db.models.deletion.DO_NOTHING, to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.RunPython(name_the_reader, migrations.RunPython.noop),
    ]
