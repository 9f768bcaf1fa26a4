import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    """Recalls, their pieces and who was told; a promise may be kept by a part that comes out."""

    dependencies = [
        ('equipment', '0020_lot_of_a_part'),
        ('jobs', '0082_newest_jobs_of_each_person'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AlterField(
            model_name='followuprule',
            name='closing',
            field=models.CharField(choices=[('visit_closed_with', 'a visit closed with the right work'), ('fill_recorded', 'a fill'), ('result_entered', 'a result entered'), ('acknowledged', 'a named person'), ('part_out', 'the part taken out or replaced')], max_length=18),
        ),
        migrations.AlterField(
            model_name='historicalfollowuprule',
            name='closing',
            field=models.CharField(choices=[('visit_closed_with', 'a visit closed with the right work'), ('fill_recorded', 'a fill'), ('result_entered', 'a result entered'), ('acknowledged', 'a named person'), ('part_out', 'the part taken out or replaced')], max_length=18),
        ),
        migrations.AlterField(
            model_name='ruleversion',
            name='closing',
            field=models.CharField(choices=[('visit_closed_with', 'a visit closed with the right work'), ('fill_recorded', 'a fill'), ('result_entered', 'a result entered'), ('acknowledged', 'a named person'), ('part_out', 'the part taken out or replaced')], max_length=18),
        ),
        migrations.CreateModel(
            name='Recall',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('title', models.CharField(max_length=120, verbose_name='what is called back')),
                ('reason', models.CharField(max_length=300, verbose_name='why')),
                ('source', models.CharField(max_length=300, verbose_name='who says so, in which paper, of which day')),
                ('caution', models.TextField(max_length=600, verbose_name='what the household is told to do')),
                ('what', models.CharField(max_length=40, verbose_name='which part')),
                ('marks', models.CharField(choices=[('lot', 'lots'), ('serial', 'serial numbers')], default='lot', max_length=6, verbose_name='the range is of')),
                ('first', models.CharField(blank=True, max_length=60, verbose_name='first')),
                ('last', models.CharField(blank=True, max_length=60, verbose_name='last')),
                ('since', models.DateField(blank=True, null=True, verbose_name='fitted or filled from')),
                ('until', models.DateField(blank=True, null=True, verbose_name='until')),
                ('opened_at', models.DateTimeField()),
                ('closed_at', models.DateTimeField(blank=True, null=True)),
                ('closed_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('opened_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-opened_at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='RecalledPiece',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('found_at', models.DateTimeField()),
                ('end', models.CharField(blank=True, choices=[('', 'stands'), ('replaced', 'replaced'), ('gone', 'taken out'), ('other_mark', 'not one of them'), ('not_there', 'not there'), ('given_up', 'given up')], max_length=10, verbose_name='how it was worked off')),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('ended_why', models.CharField(blank=True, max_length=200, verbose_name='why')),
                ('ended_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('fill', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.fill')),
                ('recall', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pieces', to='jobs.recall')),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.site')),
                ('stage', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.stage')),
            ],
            options={
                'ordering': ['recall', 'site', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='RecallTold',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('whom', models.CharField(blank=True, max_length=120, verbose_name='adult who was told')),
                ('how', models.CharField(blank=True, choices=[('telephone', 'by telephone'), ('door', 'at the house')], max_length=10)),
                ('number', models.CharField(blank=True, max_length=30, verbose_name='number called')),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('customer', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='jobs.customer')),
                ('mail', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='jobs.outboxmail')),
                ('recall', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='told', to='jobs.recall')),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.site')),
            ],
            options={
                'ordering': ['at', 'pk'],
            },
        ),
        migrations.AddConstraint(
            model_name='recall',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('closed_at', None), ('closed_by', None)), models.Q(('closed_at__isnull', False), ('closed_by__isnull', False)), _connector='OR'), name='recall_closed_by_somebody'),
        ),
        migrations.AddIndex(
            model_name='recalledpiece',
            index=models.Index(fields=['stage', 'end'], name='recalled_piece_stage'),
        ),
        migrations.AddConstraint(
            model_name='recalledpiece',
            constraint=models.UniqueConstraint(condition=models.Q(('fill', None)), fields=('recall', 'stage'), name='recalled_part_once'),
        ),
        migrations.AddConstraint(
            model_name='recalledpiece',
            constraint=models.UniqueConstraint(condition=models.Q(('fill__isnull', False)), fields=('recall', 'fill'), name='recalled_fill_once'),
        ),
        migrations.AddConstraint(
            model_name='recalledpiece',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('end', ''), ('ended_at', None)), models.Q(models.Q(('end', ''), _negated=True), ('ended_at__isnull', False)), _connector='OR'), name='recalled_piece_ended_iff_dated'),
        ),
        migrations.AddIndex(
            model_name='recalltold',
            index=models.Index(fields=['recall', 'site'], name='recall_told_at_house'),
        ),
        migrations.AddConstraint(
            model_name='recalltold',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('how__gt', ''), ('mail', None), ('whom__gt', '')), models.Q(('how', ''), ('mail__isnull', False)), _connector='OR'), name='recall_told_by_name_or_letter'),
        ),
    ]
