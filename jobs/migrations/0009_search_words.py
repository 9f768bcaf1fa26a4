from django.db import migrations, models


class Migration(migrations.Migration):
    """The words of houses and customers; `rebuild_search` fills them for rows already there."""

    dependencies = [("jobs", "0008_rare_rows_of_the_report")]

    operations = [
        migrations.CreateModel(
            name="SearchPiece",
            fields=[
                ("id", models.BigAutoField(
                    auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("piece", models.CharField(blank=True, max_length=3)),
                ("word", models.CharField(max_length=60)),
            ],
            options={"indexes": [models.Index(fields=["piece", "word"], name="search_piece")]},
        ),
        migrations.CreateModel(
            name="SearchWord",
            fields=[
                ("id", models.BigAutoField(
                    auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("text", models.CharField(max_length=60)),
                ("kind", models.CharField(
                    choices=[
                        ("name", "name"), ("phone", "phone"), ("email", "email"),
                        ("address", "address"), ("parcel", "parcel"), ("tag", "well tag"),
                        ("serial", "serial"),
                    ],
                    max_length=7)),
                ("place", models.BigIntegerField()),
                ("source", models.BigIntegerField()),
            ],
            options={
                "indexes": [
                    models.Index(fields=["text", "place", "kind", "source"], name="search_word"),
                    models.Index(fields=["source", "kind"], name="search_word_source"),
                ]
            },
        ),
    ]
