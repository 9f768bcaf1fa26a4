from django.db import migrations


def keep_the_first(apps, schema_editor):
    """On the way back a house is told once again: the first telling stands, the later ones go."""
    rows = apps.get_model('equipment', 'ResultTold').objects.using(schema_editor.connection.alias)
    seen = set()
    for row in rows.order_by('at', 'pk'):
        if (row.sample_id, row.site_id) in seen:
            row.delete()
        seen.add((row.sample_id, row.site_id))


class Migration(migrations.Migration):
    """Owner and tenant of one house are each told of a result."""

    dependencies = [
        ('equipment', '0018_place_of_a_house'),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='resulttold',
            name='result_told_once_a_house',
        ),
        migrations.RunPython(migrations.RunPython.noop, keep_the_first),
    ]
