from django.db import migrations

TOLD = ("told_customer_at", "told_whom", "told_how", "told_by")


class Migration(migrations.Migration):
    dependencies = [("equipment", "0007_results_told_house_by_house")]

    operations = [
        migrations.RemoveConstraint("sample", "sample_told_to_somebody_by_somebody"),
        *(
            migrations.RemoveField(model, name)
            for model in ("sample", "historicalsample")
            for name in TOLD
        ),
    ]
