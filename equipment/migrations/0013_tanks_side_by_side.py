from django.db import migrations, models


class Migration(migrations.Migration):
    """A figure or setting may be of one of the tanks side by side; those on file are of the whole."""

    dependencies = [
        ('equipment', '0012_both_figures_of_a_setting'),
    ]

    operations = [
        migrations.AddField(
            model_name='measurement',
            name='tank',
            field=models.PositiveSmallIntegerField(default=0, verbose_name='of tanks side by side, 0: the whole'),
        ),
        migrations.AddField(
            model_name='settingchange',
            name='tank',
            field=models.PositiveSmallIntegerField(default=0, verbose_name='of tanks side by side, 0: the whole'),
        ),
    ]
