from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0002_follow_up_rule_events")]

    operations = [
        migrations.CreateModel(
            name="ChannelStop",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("stopped_at", models.DateTimeField()),
                ("try_again_at", models.DateTimeField()),
                ("code", models.CharField(blank=True, max_length=10)),
                ("error", models.TextField(blank=True)),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("pk", 1)), name="channel_one_row")
                ],
            },
        ),
    ]
