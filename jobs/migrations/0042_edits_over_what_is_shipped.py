from django.db import migrations, models


class Migration(migrations.Migration):
    """What the company changed of a checklist is kept apart from what is shipped."""

    dependencies = [
        ('jobs', '0041_answers_of_each_tank'),
    ]

    operations = [
        migrations.AddField(
            model_name='checklisttemplate',
            name='is_edited',
            field=models.BooleanField(default=False, verbose_name="the company's edits are laid over it"),
        ),
        migrations.AddField(
            model_name='checklisttemplate',
            name='shipped',
            field=models.PositiveSmallIntegerField(default=0),
        ),
        migrations.AddField(
            model_name='historicalchecklisttemplate',
            name='is_edited',
            field=models.BooleanField(default=False, verbose_name="the company's edits are laid over it"),
        ),
        migrations.AddField(
            model_name='historicalchecklisttemplate',
            name='shipped',
            field=models.PositiveSmallIntegerField(default=0),
        ),
        migrations.CreateModel(
            name='BlockOrder',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('purpose', models.CharField(choices=[('survey', 'survey'), ('disinfect', 'disinfection'), ('startup', 'start-up'), ('recheck', 'recheck')], max_length=10)),
                ('block', models.CharField(max_length=20)),
                ('keys', models.JSONField(default=list)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('purpose', 'block'), name='block_order_once')],
            },
        ),
        migrations.CreateModel(
            name='LineEdit',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('purpose', models.CharField(choices=[('survey', 'survey'), ('disinfect', 'disinfection'), ('startup', 'start-up'), ('recheck', 'recheck')], max_length=10)),
                ('key', models.SlugField(max_length=60)),
                ('changes', models.JSONField(blank=True, default=dict)),
                ('was', models.JSONField(blank=True, default=dict)),
                ('left_out', models.BooleanField(default=False)),
                ('own', models.JSONField(blank=True, default=dict)),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.UniqueConstraint(fields=('purpose', 'key'), name='line_edit_once')],
            },
        ),
    ]
