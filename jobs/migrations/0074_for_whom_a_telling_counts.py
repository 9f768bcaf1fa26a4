import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """Each contact who must be told of a result; older tellings stay of the whole house."""

    dependencies = [
        ('equipment', '0019_results_told_person_by_person'),
        ('jobs', '0073_visits_that_wait'),
    ]

    operations = [
        migrations.CreateModel(
            name='ResultToldTo',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('customer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='jobs.customer')),
                ('told', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.resulttold')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
    ]
