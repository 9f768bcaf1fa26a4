from django.conf import settings
from django.db import migrations, models
from django.utils import timezone


def begin_today(apps, schema_editor):
    """Nobody could enter a reference before: work completed so far is not said to be unbilled."""
    alias = schema_editor.connection.alias
    if apps.get_model("jobs", "Job").objects.using(alias).filter(status="completed").exists():
        companies = apps.get_model("jobs", "Company").objects.using(alias)
        companies.update(billed_from=timezone.localdate())


class Migration(migrations.Migration):
    """What is charged for a job is entered and read: reason, references from a day on."""

    dependencies = [
        ('equipment', '0019_results_told_person_by_person'),
        ('jobs', '0077_log_of_entries'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='company',
            name='billed_from',
            field=models.DateField(blank=True, null=True, verbose_name='invoices are kept from'),
        ),
        migrations.AddField(
            model_name='historicalcompany',
            name='billed_from',
            field=models.DateField(blank=True, null=True, verbose_name='invoices are kept from'),
        ),
        migrations.AddField(
            model_name='historicaljob',
            name='charge_note',
            field=models.CharField(blank=True, max_length=200, verbose_name='why nothing is charged'),
        ),
        migrations.AddField(
            model_name='job',
            name='charge_note',
            field=models.CharField(blank=True, max_length=200, verbose_name='why nothing is charged'),
        ),
        migrations.AlterField(
            model_name='historicaljob',
            name='charge_kind',
            field=models.CharField(choices=[('billable', 'billable'), ('warranty', 'warranty'), ('goodwill', 'no charge')], default='billable', max_length=10, verbose_name='what is charged'),
        ),
        migrations.AlterField(
            model_name='historicaljob',
            name='cost_cents',
            field=models.PositiveIntegerField(blank=True, null=True, verbose_name='amount, cents'),
        ),
        migrations.AlterField(
            model_name='historicaljob',
            name='invoice_ref',
            field=models.CharField(blank=True, max_length=40, verbose_name='reference of the invoice'),
        ),
        migrations.AlterField(
            model_name='job',
            name='charge_kind',
            field=models.CharField(choices=[('billable', 'billable'), ('warranty', 'warranty'), ('goodwill', 'no charge')], default='billable', max_length=10, verbose_name='what is charged'),
        ),
        migrations.AlterField(
            model_name='job',
            name='cost_cents',
            field=models.PositiveIntegerField(blank=True, null=True, verbose_name='amount, cents'),
        ),
        migrations.AlterField(
            model_name='job',
            name='invoice_ref',
            field=models.CharField(blank=True, max_length=40, verbose_name='reference of the invoice'),
        ),
        migrations.RunPython(begin_today, migrations.RunPython.noop),
        migrations.AddIndex(
            model_name='job',
            index=models.Index(condition=models.Q(('charge_kind', 'billable'), ('invoice_ref', ''), ('status', 'completed')), fields=['completed_at'], name='job_not_billed'),
        ),
        migrations.AddIndex(
            model_name='job',
            index=models.Index(condition=models.Q(('charge_kind__in', ['warranty', 'goodwill']), ('status', 'completed')), fields=['completed_at'], name='job_not_charged'),
        ),
        migrations.AddConstraint(
            model_name='job',
            constraint=models.CheckConstraint(condition=models.Q(('invoice_ref', ''), ('charge_kind', 'billable'), _connector='OR'), name='job_invoice_only_where_charged'),
        ),
    ]
