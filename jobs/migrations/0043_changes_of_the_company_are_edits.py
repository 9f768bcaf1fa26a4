from django.db import migrations

EDITABLE = (
    "label",
    "hint",
    "required",
    "may_skip",
    "hard_min",
    "hard_max",
    "warn_min",
    "warn_max",
)


def tell_apart(apps, schema_editor):
    """Versions that a person made are edits over the shipped one below; the log says which."""
    templates = apps.get_model("jobs", "ChecklistTemplate").objects
    logged = apps.get_model("jobs", "LogEntry").objects.filter(
        verb="changed_line", subject_type="jobs.checklisttemplate"
    )
    made_by_people = set(logged.values_list("subject_id", flat=True))
    below = {}  # purpose: the shipped version that edits of the next ones lie over
    for template in templates.order_by("purpose", "version"):
        base = below.get(template.purpose)
        if template.pk in made_by_people and base:
            template.shipped, template.is_edited = base.version, True
            _keep_edits(apps, base, template)
        else:
            template.shipped = template.version
            below[template.purpose] = template
        template.save()


def _keep_edits(apps, base, template):
    """A line that differs from the shipped one; a later version of the company counts."""
    edits = apps.get_model("jobs", "LineEdit").objects
    lines = apps.get_model("jobs", "ChecklistLine").objects
    shipped = {line.key: line for line in lines.filter(template=base)}
    for line in lines.filter(template=template):
        if line.key not in shipped:
            continue
        was = shipped[line.key]
        changed = [name for name in EDITABLE if getattr(line, name) != getattr(was, name)]
        if not changed:
            continue
        edit, _ = edits.get_or_create(purpose=template.purpose, key=line.key)
        edit.changes |= {name: getattr(line, name) for name in changed}
        edit.was |= {"label": was.label} | {name: getattr(was, name) for name in changed}
        edit.save()


class Migration(migrations.Migration):
    """Edits in flight are kept over what is shipped, and laid anew where they had been lost."""

    dependencies = [("jobs", "0042_edits_over_what_is_shipped")]

    operations = [migrations.RunPython(tell_apart, migrations.RunPython.noop)]
