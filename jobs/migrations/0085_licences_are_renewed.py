import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models import Q


def only_what_stood_before(apps, schema_editor):
    """Before, a licence was of a person, and one out of use was taken off the list."""
    skills = apps.get_model("jobs", "Skill")._default_manager.using(schema_editor.connection.alias)
    skills.filter(Q(person=None) | Q(withdrawn_on__isnull=False)).delete()


class Migration(migrations.Migration):
    """Licences have a number, are left out of use, and may be the company's own."""

    dependencies = [
        ('jobs', '0084_could_not_be_reached'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='historicalskill',
            name='number',
            field=models.CharField(blank=True, max_length=60),
        ),
        migrations.AddField(
            model_name='historicalskill',
            name='withdrawn_on',
            field=models.DateField(blank=True, null=True, verbose_name='left out of use on'),
        ),
        migrations.AddField(
            model_name='skill',
            name='number',
            field=models.CharField(blank=True, max_length=60),
        ),
        migrations.AddField(
            model_name='skill',
            name='withdrawn_on',
            field=models.DateField(blank=True, null=True, verbose_name='left out of use on'),
        ),
        migrations.AlterField(
            model_name='historicalskill',
            name='expires_on',
            field=models.DateField(blank=True, null=True, verbose_name='ends on'),
        ),
        migrations.AlterField(
            model_name='skill',
            name='expires_on',
            field=models.DateField(blank=True, null=True, verbose_name='ends on'),
        ),
        migrations.AlterField(
            model_name='skill',
            name='person',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='skills', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddConstraint(
            model_name='skill',
            constraint=models.UniqueConstraint(condition=models.Q(('person', None)), fields=('name',), name='licence_of_the_company_once'),
        ),
        migrations.RunPython(migrations.RunPython.noop, only_what_stood_before),
    ]
