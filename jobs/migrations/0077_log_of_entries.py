from datetime import timedelta

from django.conf import settings
from django.db import migrations, models

from equipment import insert_only

#: an act and the entry that it wrote were kept in one transaction
APART = timedelta(seconds=2)
ROWS = 2000


def link(apps, schema_editor):
    """Of acts in flight: the entry of the same row that was kept at the same moment."""
    alias = schema_editor.connection.alias
    log = apps.get_model("jobs", "LogEntry").objects.using(alias)
    with insert_only.lifted(alias):
        for model in apps.get_models():
            if not hasattr(model, "history_id"):
                continue
            label = model._meta.label_lower.replace(".historical", ".")
            _link_model(log, log.filter(subject_type=label), model.objects.using(alias))


def _link_model(log, acts, history):
    chunk = []
    for act in acts.order_by("pk").iterator(ROWS):
        chunk.append(act)
        if len(chunk) == ROWS:
            _link_rows(log, chunk, history)
            chunk = []
    _link_rows(log, chunk, history)


def _link_rows(log, acts, history):
    entries = {}
    subjects = {act.subject_id for act in acts}
    for row in history.filter(id__in=subjects).values_list("id", "history_id", "history_date"):
        entries.setdefault(row[0], []).append(row[1:])
    for act in acts:
        near = entries.get(act.subject_id, [])
        found = [entry for entry, at in near if abs(at - act.at) <= APART]
        if found:
            act.entry_id_logged = max(found)
            entries[act.subject_id] = [row for row in near if row[0] != act.entry_id_logged]
    log.bulk_update([act for act in acts if act.entry_id_logged], ["entry_id_logged"], ROWS // 4)


class Migration(migrations.Migration):
    """An act names the entry of the other history that it wrote, so that a change is said once."""

    dependencies = [
        ("jobs", "0076_carry_over_old_jobs"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='logentry',
            name='entry_id_logged',
            field=models.BigIntegerField(blank=True, null=True, verbose_name='entry'),
        ),
        migrations.RunPython(link, migrations.RunPython.noop),
        migrations.AddIndex(
            model_name='logentry',
            index=models.Index(fields=['-at'], name='log_newest'),
        ),
        migrations.AddIndex(
            model_name='logentry',
            index=models.Index(fields=['by', '-at'], name='log_person'),
        ),
    ]
