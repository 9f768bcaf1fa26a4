from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0014_the_rule_says_when_it_is_due")]

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
