from django.db import migrations, models


class Migration(migrations.Migration):
    # two migrations stand side by side before this one
    dependencies = [
        ("jobs", "0021_who_was_told_before_the_chlorine"),
        ("jobs", "0022_visits_hold_no_request"),
    ]

    operations = [
        migrations.CreateModel(
            name="PasswordAsk",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("email", models.CharField(max_length=254)),
                ("asked_at", models.DateTimeField()),
            ],
        ),
    ]
