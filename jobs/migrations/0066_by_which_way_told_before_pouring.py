import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    """Who was told before the pouring: by which way, on which number, read back, when, by whom.

    Rows that stand keep their name; of them no way is noted.
    """

    dependencies = [
        ("jobs", "0065_call_again_on"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="pourtold",
            name="how",
            field=models.CharField(
                blank=True,
                choices=[("telephone", "by telephone"), ("door", "at the house")],
                max_length=10,
            ),
        ),
        migrations.AddField(
            model_name="pourtold",
            name="number",
            field=models.CharField(blank=True, max_length=30, verbose_name="number called"),
        ),
        migrations.AddField(
            model_name="pourtold",
            name="read_back",
            field=models.BooleanField(default=False, verbose_name="they said it back"),
        ),
        migrations.AddField(
            model_name="pourtold",
            name="told_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="pourtold",
            name="told_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddConstraint(
            model_name="pourtold",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("whom", ""), _negated=True),
                    models.Q(("how", ""), ("number", ""), ("read_back", False), ("told_at", None)),
                    _connector="OR",
                ),
                name="pour_told_is_of_somebody",
            ),
        ),
    ]
