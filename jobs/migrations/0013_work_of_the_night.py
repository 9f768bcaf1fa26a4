from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0012_told_inside_held")]

    operations = [
        migrations.CreateModel(
            name="Night",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("day", models.DateField(unique=True)),
                ("lease_until", models.DateTimeField(blank=True, null=True)),
                ("finished_at", models.DateTimeField(blank=True, null=True)),
                ("error", models.CharField(blank=True, max_length=300)),
            ],
        ),
    ]
