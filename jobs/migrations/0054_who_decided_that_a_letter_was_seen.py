from django.conf import settings
from django.db import migrations, models


def forget_who_decided(apps, schema_editor):
    """The older constraint has no place for a name beside a letter."""
    told = apps.get_model("jobs", "VisitTold").objects
    told.filter(how="mail", by__isnull=False).update(by=None)


class Migration(migrations.Migration):
    """A letter in doubt tells by the word of who decided that it was seen."""

    dependencies = [
        ('jobs', '0053_numbers_called_of_a_held_house'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='visittold',
            name='visit_told_as_its_way_asks',
        ),
        migrations.RunPython(migrations.RunPython.noop, forget_who_decided),
        migrations.AddConstraint(
            model_name='visittold',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('how', 'mail'), ('mail__isnull', False)), models.Q(('by', None), ('how', 'answer'), ('mail', None)), models.Q(('by__isnull', False), ('how', 'telephone'), ('mail', None), ('read_back', True), models.Q(('whom', ''), _negated=True), models.Q(('number', ''), _negated=True)), _connector='OR'), name='visit_told_as_its_way_asks'),
        ),
    ]
