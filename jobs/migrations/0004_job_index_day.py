from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0003_mail_channel_stop")]

    operations = [
        migrations.AddIndex(
            model_name="job",
            index=models.Index(
                condition=models.Q(("index_on__isnull", False)),
                fields=["index_on"],
                name="job_index_day",
            ),
        ),
    ]
