from django.db import migrations, models


class Migration(migrations.Migration):
    """An answer that was given stands; the next night keeps the one that holds now."""

    dependencies = [
        ('jobs', '0079_notices_told_and_taken_back'),
    ]

    operations = [
        migrations.CreateModel(
            name='Verdict',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField(unique=True)),
                ('recorded_at', models.DateTimeField()),
                ('since', models.DateField(verbose_name='first day of handover')),
                ('until', models.DateField(verbose_name='last day of handover')),
                ('method', models.CharField(max_length=20)),
                ('kind', models.CharField(max_length=10)),
                ('table', models.JSONField()),
                ('answer', models.JSONField()),
                ('causes', models.JSONField(default=dict)),
            ],
            options={
                'ordering': ['-day'],
            },
        ),
    ]
