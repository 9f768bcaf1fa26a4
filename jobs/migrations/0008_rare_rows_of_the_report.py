from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0007_follow_up_booked_late")]

    operations = [
        migrations.AddIndex(
            model_name="job",
            index=models.Index(
                condition=models.Q(("origin__isnull", False)),
                fields=["origin", "reported_on"],
                name="job_callbacks",
            ),
        ),
        migrations.AddIndex(
            model_name="job",
            index=models.Index(
                condition=models.Q(("defect_found", True)), fields=["train"], name="job_defects"
            ),
        ),
        migrations.AddIndex(
            model_name="sitetenure",
            index=models.Index(
                condition=models.Q(("until_on__isnull", False)),
                fields=["site", "until_on"],
                name="tenure_ended",
            ),
        ),
    ]
