from django.db import migrations, models

WAYS = [
    ("event_day", "the day of the event plus the offset"),
    ("working_days", "the same, counted in working days"),
    ("refill_forecast", "20 percent level, solution age or company cap"),
    ("run_end", "last fifth of a wash run, three to six weeks on"),
]


class Migration(migrations.Migration):
    """A promise may be due so many working days after the event."""

    dependencies = [("jobs", "0045_strips_of_a_van")]

    operations = [
        migrations.AlterField(
            model_name=name,
            name="anchor",
            field=models.CharField(choices=WAYS, default="event_day", max_length=20),
        )
        for name in ("followuprule", "historicalfollowuprule", "ruleversion")
    ]
