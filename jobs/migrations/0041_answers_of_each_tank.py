from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    """Of tanks side by side each has its own answers; those kept so far are of the whole part."""

    dependencies = [
        ('equipment', '0013_tanks_side_by_side'),
        ('jobs', '0040_what_happened_lately'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='answer',
            name='answer_once',
        ),
        migrations.AddField(
            model_name='answer',
            name='tank',
            field=models.PositiveSmallIntegerField(default=0, verbose_name='of tanks side by side, 0: the whole'),
        ),
        migrations.AddField(
            model_name='recordcorrection',
            name='tank',
            field=models.PositiveSmallIntegerField(default=0, verbose_name='of tanks side by side, 0: the whole'),
        ),
        migrations.AlterField(
            model_name='checklistline',
            name='kind',
            field=models.CharField(choices=[('tick', 'tick'), ('quantity', 'figure with a unit'), ('number', 'bare figure'), ('choice', 'choice'), ('text', 'text'), ('timer', 'timer'), ('steps', 'steps of the dial-back'), ('cycles', 'cycles run one after the other')], max_length=10),
        ),
        migrations.AlterField(
            model_name='checklistline',
            name='subject',
            field=models.CharField(blank=True, max_length=20),
        ),
        migrations.AddConstraint(
            model_name='answer',
            constraint=models.UniqueConstraint(condition=models.Q(('stage__isnull', False)), fields=('record', 'line_key', 'side', 'stage', 'tank'), name='answer_once'),
        ),
    ]
