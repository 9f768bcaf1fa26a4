from django.db import migrations, models

#: one number for the whole country: HRSA, Poison Help
NUMBER = "1-800-222-1222"


def put(apps, schema_editor):
    """Where nobody put another number."""
    apps.get_model("jobs", "Company").objects.filter(poison_phone="").update(poison_phone=NUMBER)


class Migration(migrations.Migration):
    """The number to call after a splash is there from the start."""

    dependencies = [("jobs", "0046_due_in_working_days")]

    operations = [
        *(
            migrations.AlterField(
                model_name=name,
                name="poison_phone",
                field=models.CharField("Poison Help", blank=True, default=NUMBER, max_length=30),
            )
            for name in ("company", "historicalcompany")
        ),
        migrations.RunPython(put, migrations.RunPython.noop),
    ]
