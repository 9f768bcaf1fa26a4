import django.db.models.deletion
from django.db import migrations, models


def who_only_pays_pays(apps, schema_editor):
    """Whoever is noted as paying the bill pays; of several the newest."""
    SiteTenure = apps.get_model("jobs", "SiteTenure")
    payers = SiteTenure.objects.filter(part="payer", until_on=None).order_by("from_on", "pk")
    for pk in {row.site_id: row.pk for row in payers}.values():
        SiteTenure.objects.filter(pk=pk).update(pays=True)


def parts_the_older_state_has(apps, schema_editor):
    """It knows neither builder nor neighbour: they look after the house."""
    SiteTenure = apps.get_model("jobs", "SiteTenure")
    SiteTenure.objects.filter(part__in=["builder", "neighbour"]).update(part="caretaker")


class Migration(migrations.Migration):
    """Several contacts of a house: who is told what, who pays, who has a key, who was told."""

    dependencies = [
        ('equipment', '0018_place_of_a_house'),
        ('jobs', '0069_minutes_of_driving'),
    ]

    operations = [
        migrations.AddField(
            model_name='historicalsitetenure',
            name='has_key',
            field=models.BooleanField(default=False, verbose_name='has a key'),
        ),
        migrations.AddField(
            model_name='historicalsitetenure',
            name='pays',
            field=models.BooleanField(default=False, verbose_name='pays, and gets the invoices'),
        ),
        migrations.AddField(
            model_name='historicalsitetenure',
            name='told_visits',
            field=models.BooleanField(default=False, verbose_name='is told of visits as well'),
        ),
        migrations.AddField(
            model_name='historicalsitetenure',
            name='told_water',
            field=models.BooleanField(default=False, verbose_name='is told of notices and results as well'),
        ),
        migrations.AddField(
            model_name='historicalsitetenure',
            name='version',
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name='sitetenure',
            name='has_key',
            field=models.BooleanField(default=False, verbose_name='has a key'),
        ),
        migrations.AddField(
            model_name='sitetenure',
            name='pays',
            field=models.BooleanField(default=False, verbose_name='pays, and gets the invoices'),
        ),
        migrations.AddField(
            model_name='sitetenure',
            name='told_visits',
            field=models.BooleanField(default=False, verbose_name='is told of visits as well'),
        ),
        migrations.AddField(
            model_name='sitetenure',
            name='told_water',
            field=models.BooleanField(default=False, verbose_name='is told of notices and results as well'),
        ),
        migrations.AddField(
            model_name='sitetenure',
            name='version',
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name='visittold',
            name='customer',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='jobs.customer'),
        ),
        migrations.AlterField(
            model_name='historicalsitetenure',
            name='part',
            field=models.CharField(choices=[('owner', 'owner'), ('tenant', 'tenant'), ('caretaker', 'manager'), ('builder', 'builder'), ('neighbour', 'neighbour'), ('payer', 'pays the bill')], default='owner', max_length=10),
        ),
        migrations.AlterField(
            model_name='sitetenure',
            name='part',
            field=models.CharField(choices=[('owner', 'owner'), ('tenant', 'tenant'), ('caretaker', 'manager'), ('builder', 'builder'), ('neighbour', 'neighbour'), ('payer', 'pays the bill')], default='owner', max_length=10),
        ),
        migrations.RunPython(who_only_pays_pays, parts_the_older_state_has),
        migrations.AddConstraint(
            model_name='sitetenure',
            constraint=models.UniqueConstraint(condition=models.Q(('pays', True), ('until_on', None)), fields=('site',), name='tenure_one_payer_open'),
        ),
    ]
