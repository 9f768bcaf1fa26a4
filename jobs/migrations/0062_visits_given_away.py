import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    """Which visits of somebody who was away were given to others, and how they stood before."""

    dependencies = [
        ("jobs", "0061_what_work_needs"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Giving',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField()),
                ('starts_before', models.DateTimeField()),
                ('ends_before', models.DateTimeField()),
                ('from_before', models.DateTimeField()),
                ('until_before', models.DateTimeField()),
                ('version_after', models.PositiveIntegerField()),
            ],
            options={
                'ordering': ['at', 'pk'],
            },
        ),
        migrations.AddField(
            model_name='giving',
            name='absence',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='givings', to='jobs.absence'),
        ),
        migrations.AddField(
            model_name='giving',
            name='by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='giving',
            name='helper_before',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='giving',
            name='lead_before',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='giving',
            name='visit',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='givings', to='jobs.visit'),
        ),
    ]
