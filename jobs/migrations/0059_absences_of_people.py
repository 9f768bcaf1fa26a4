import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    """Who is away from when to when; nobody was before."""

    dependencies = [
        ("jobs", "0058_lunch"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Absence',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('ill', 'ill'), ('leave', 'leave'), ('course', 'course'), ('other', 'something else')], max_length=6)),
                ('starts_at', models.DateTimeField()),
                ('ends_at', models.DateTimeField()),
                ('note', models.CharField(blank=True, max_length=200)),
                ('entered_at', models.DateTimeField()),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('entered_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='absences', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['starts_at', 'pk'],
                'indexes': [models.Index(fields=['person', 'ends_at'], name='absence_of_person')],
                'constraints': [models.CheckConstraint(condition=models.Q(('ends_at__gt', models.F('starts_at'))), name='absence_ends_after_start')],
            },
        ),
    ]
