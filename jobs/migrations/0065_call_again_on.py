from django.db import migrations, models


class Migration(migrations.Migration):
    """A try says on which day they are called again; those that stand say nothing of it."""

    dependencies = [("jobs", "0064_steps_named_by_their_act")]

    operations = [
        migrations.AddField(
            model_name="contactattempt",
            name="again_on",
            field=models.DateField(blank=True, null=True),
        ),
    ]
