from django.db import migrations, models


class Migration(migrations.Migration):
    """What another kind of evidence ends is a notice of its own, and keeps what ended it."""

    dependencies = [
        ('jobs', '0070_contacts_of_houses'),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='donotuse',
            name='do_not_use_once_open',
        ),
        migrations.RemoveConstraint(
            model_name='donotuse',
            name='do_not_use_once_open_on_a_well',
        ),
        migrations.AddField(
            model_name='donotuse',
            name='lifted_on_words',
            field=models.CharField(blank=True, max_length=300),
        ),
        migrations.AddField(
            model_name='donotuse',
            name='lifted_words_at',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='donotuse',
            name='lifted_words_by',
            field=models.CharField(blank=True, max_length=120),
        ),
        migrations.AlterField(
            model_name='donotuse',
            name='cause',
            field=models.CharField(choices=[('coliform', 'coliform bacteria found'), ('ecoli', 'E. coli found'), ('flood', 'the well was flooded'), ('opened', 'the well was opened or worked on'), ('suspected', 'bacteria may have got in'), ('disinfected', 'disinfected, sample to come'), ('oxidant', 'chlorine or another oxidant in the pipes'), ('other', 'something else')], default='other', max_length=12),
        ),
        migrations.AddConstraint(
            model_name='donotuse',
            constraint=models.UniqueConstraint(models.F('site'), models.F('level'), models.Case(models.When(level='sample_pending', then=models.Value('samples')), models.When(cause='other', then=models.Value('words')), models.When(level='no_use', then=models.Value('readings')), models.When(cause='oxidant', then=models.Value('readings')), default=models.Value('samples'), output_field=models.CharField()), condition=models.Q(('lifted_at', None), ('well', None)), name='do_not_use_once_open'),
        ),
        migrations.AddConstraint(
            model_name='donotuse',
            constraint=models.UniqueConstraint(models.F('well'), models.F('level'), models.Case(models.When(level='sample_pending', then=models.Value('samples')), models.When(cause='other', then=models.Value('words')), models.When(level='no_use', then=models.Value('readings')), models.When(cause='oxidant', then=models.Value('readings')), default=models.Value('samples'), output_field=models.CharField()), condition=models.Q(('lifted_at', None), ('well__isnull', False)), name='do_not_use_once_open_on_a_well'),
        ),
    ]
