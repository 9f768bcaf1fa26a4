from django.db import migrations, models


class Migration(migrations.Migration):
    """A figure read by a strip may lie between two values; those on file are single ones."""

    dependencies = [
        ('equipment', '0013_tanks_side_by_side'),
    ]

    operations = [
        migrations.AddField(
            model_name='measurement',
            name='other_end',
            field=models.FloatField(blank=True, null=True, verbose_name='other end of a range'),
        ),
        migrations.AddConstraint(
            model_name='measurement',
            constraint=models.CheckConstraint(condition=models.Q(('other_end', None), models.Q(('comparator', '='), ('value__isnull', False), models.Q(('other_end', models.F('value')), _negated=True)), _connector='OR'), name='measurement_range_of_two_ends'),
        ),
    ]
