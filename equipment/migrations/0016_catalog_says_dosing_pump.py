from django.db import migrations

#: shipped rows of the catalog, by slug
NAMES = {
    "FeedPump": {
        "peristaltic-17": "Peristaltic {} pump, 17 gal/day, 100 psi",
        "peristaltic-17-240": "Peristaltic {} pump, 17 gal/day, 100 psi, 240 V",
        "peristaltic-40-low-pressure": "Peristaltic {} pump, 40 gal/day, 25 psi",
        "diaphragm-timer-24": "Diaphragm {} pump with percent timer, 24 gal/day",
        "diaphragm-stroke-12": "Diaphragm {} pump, stroke and speed, 12 gal/day",
        "diaphragm-metered-12": "Diaphragm {} pump, pulses of a meter, 12 gal/day",
    },
    "RetentionTank": {
        "retention-40": "{} tank 40 gal",
        "retention-80": "{} tank 80 gal",
        "retention-120": "{} tank 120 gal",
    },
}
WORDS = {"FeedPump": ("feed", "dosing"), "RetentionTank": ("Retention", "Contact")}


def _rename(apps, *, back):
    """Rows that still have the name they were shipped with; what people named stays."""
    for model, names in NAMES.items():
        before, after = reversed(WORDS[model]) if back else WORDS[model]
        rows = apps.get_model("equipment", model)._default_manager
        for slug, name in names.items():
            rows.filter(slug=slug, name=name.format(before)).update(name=name.format(after))


def forwards(apps, schema_editor):
    _rename(apps, back=False)


def backwards(apps, schema_editor):
    _rename(apps, back=True)


class Migration(migrations.Migration):
    """The catalog says dosing pump and contact tank, as everything else does."""

    dependencies = [("equipment", "0015_contact_tank_and_dosing_pump")]

    operations = [migrations.RunPython(forwards, backwards)]
