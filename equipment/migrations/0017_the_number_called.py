from django.db import migrations, models


class Migration(migrations.Migration):
    """Who was told of a result, on which number, and that they said it back."""

    dependencies = [
        ('equipment', '0016_catalog_says_dosing_pump'),
    ]

    operations = [
        migrations.AddField(
            model_name='resulttold',
            name='number',
            field=models.CharField(blank=True, max_length=30, verbose_name='number called'),
        ),
        migrations.AddField(
            model_name='resulttold',
            name='read_back',
            field=models.BooleanField(default=False, verbose_name='they said it back'),
        ),
    ]
