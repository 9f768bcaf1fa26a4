import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """Nothing ever promised to come back for a person or a well: every promise names a house."""

    dependencies = [("jobs", "0012_told_inside_held")]

    operations = [
        migrations.RemoveField(model_name="followup", name="person"),
        migrations.RemoveField(model_name="followup", name="well"),
        migrations.AlterField(
            model_name="followup",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="equipment.site",
            ),
        ),
    ]
