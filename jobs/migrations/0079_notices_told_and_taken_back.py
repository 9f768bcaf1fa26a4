import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    """Who knows of a notice without a sample; one raised at the wrong house is taken back.

    Of notices that stand already nobody is said to know: they are asked about once.
    """

    dependencies = [
        ('equipment', '0019_results_told_person_by_person'),
        ('jobs', '0078_charges_of_jobs'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='NoticeTold',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('is_taken_back', models.BooleanField(default=False)),
                ('whom', models.CharField(max_length=120, verbose_name='adult who was told')),
                ('how', models.CharField(choices=[('telephone', 'by telephone'), ('door', 'at the house')], max_length=10)),
                ('number', models.CharField(blank=True, max_length=30, verbose_name='number called')),
                ('at', models.DateTimeField()),
            ],
            options={
                'ordering': ['at', 'pk'],
            },
        ),
        migrations.AddField(
            model_name='donotuse',
            name='taken_back_why',
            field=models.CharField(blank=True, max_length=300),
        ),
        migrations.AddConstraint(
            model_name='donotuse',
            constraint=models.CheckConstraint(condition=models.Q(('taken_back_why', ''), models.Q(('lifted_at__isnull', False), ('lifted_on_reading', ''), ('lifted_on_sample', None), ('lifted_on_words', '')), _connector='OR'), name='do_not_use_taken_back_is_not_lifted'),
        ),
        migrations.AddField(
            model_name='noticetold',
            name='by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='noticetold',
            name='customer',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='jobs.customer'),
        ),
        migrations.AddField(
            model_name='noticetold',
            name='notice',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='told', to='jobs.donotuse'),
        ),
        migrations.AddField(
            model_name='noticetold',
            name='site',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.site'),
        ),
        migrations.AddIndex(
            model_name='noticetold',
            index=models.Index(fields=['site', 'notice'], name='notice_told_at_house'),
        ),
    ]
