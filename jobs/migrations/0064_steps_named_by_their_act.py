from uuid import UUID

from django.apps.registry import Apps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor


def name_them(apps: Apps, editor: BaseDatabaseSchemaEditor) -> None:
    """Steps that stand get the name of the first act that set them."""
    steps = apps.get_model("jobs", "DialStep").objects
    rows = apps.get_model("jobs", "ActAnswer").objects.filter(act__kind="step-set", state="kept")
    for answer in rows.exclude(record=None).select_related("act").order_by("act"):
        number = answer.told.get("step")
        if isinstance(number, int):
            named = steps.filter(record=answer.record_id, number=number, made_by=None)
            named.update(made_by=UUID(str(answer.act.uuid)))


class Migration(migrations.Migration):
    """A reading names the act that set its step: two phones may have counted alike."""

    dependencies = [("jobs", "0063_told_as_they_were")]

    operations = [
        migrations.AddField(
            model_name="dialstep",
            name="made_by",
            field=models.UUIDField(blank=True, editable=False, null=True),
        ),
        migrations.RunPython(name_them, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="dialstep",
            constraint=models.UniqueConstraint(name="dial_step_of_one_act", fields=["made_by"]),
        ),
    ]
