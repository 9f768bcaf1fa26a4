from django.db import migrations, models


class Migration(migrations.Migration):
    """Who was told that treatment holds a notice, or no more, on which number."""

    dependencies = [("jobs", "0052_one_word_for_each_thing")]

    operations = [
        migrations.AddField(
            model_name='heldbytreatment',
            name='number',
            field=models.CharField(blank=True, max_length=30, verbose_name='number called'),
        ),
        migrations.AddField(
            model_name='heldbytreatment',
            name='raised_number',
            field=models.CharField(blank=True, max_length=30),
        ),
    ]
