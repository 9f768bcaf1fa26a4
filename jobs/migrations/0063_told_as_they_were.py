from django.db import migrations, models

from equipment import insert_only


def as_the_older_state_has_it(apps, schema_editor):
    """It knows no such telling: what was known by an earlier one counts as answered."""
    with insert_only.lifted(schema_editor.connection.alias):
        apps.get_model("jobs", "VisitTold").objects.filter(how="still").update(how="answer")


class Migration(migrations.Migration):
    """What was changed and changed back, before a letter left, is still known."""

    dependencies = [("jobs", "0062_visits_given_away")]

    operations = [
        migrations.RemoveConstraint(
            model_name='visittold',
            name='visit_told_as_its_way_asks',
        ),
        migrations.AlterField(
            model_name='visittold',
            name='how',
            field=models.CharField(choices=[('mail', 'by mail'), ('telephone', 'by telephone'), ('answer', 'by our letter, which was answered'), ('still', 'already: it is again as they were told')], max_length=10),
        ),
        migrations.AddConstraint(
            model_name='visittold',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('how', 'mail'), ('mail__isnull', False)), models.Q(('by', None), ('how__in', ['answer', 'still']), ('mail', None)), models.Q(('by__isnull', False), ('how', 'telephone'), ('mail', None), ('read_back', True), models.Q(('whom', ''), _negated=True), models.Q(('number', ''), _negated=True)), _connector='OR'), name='visit_told_as_its_way_asks'),
        ),
        migrations.RunPython(migrations.RunPython.noop, as_the_older_state_has_it),
    ]
