"""Faults of the record as HTML on the phone, and of the Python that runs there."""

from tests.mutants.faults import in_file

FAULTS = [
    *in_file(
        "jobs/phone/rows.py",
        "forms/record_items record_pages opened_questions phone/rows",
        ("box.text = typed.get(name, box.text)", "box.text = box.text"),
        ("box.unit = typed.get(", 'box.unit = {"": ""}.get('),
        ("value == self.chosen", 'value == ""'),
        ('if self.help_text else ""', 'if not self.help_text else ""'),
    ),
    *in_file(
        "jobs/phone/rows.py",
        "strip_ranges record_pages",
        ("if item.line.key in STRONG:", "if False:"),
        ("band_typed(low, high), MEASURED", 'f"{low:g}", MEASURED'),
        ("box.sign, box.text = sign_of(box.text)", "pass"),
    ),
    *in_file(
        "jobs/phone/part.py",
        "phone/whole_pages",
        ("doubt_on(sheet.facts.beside, sheet.now.date())", "sheet.facts.beside.strips_doubt"),
    ),
    *in_file(
        "jobs/pages/handed.py",
        "phone/whole_pages",
        ("if check and lot.pk == check.lot_id), None", "if False), None"),
    ),
    *in_file(
        "jobs/phone/runtime.py",
        "phone/runtime",
        ("hexdigest() != digest", "hexdigest() == digest"),
        ('| {"packages": {}}', "| {}"),
        ("0 <= time.time() - asked", "1 <= time.time() - asked"),
        ("< ASK_AGAIN_SECONDS:", "< 1e9:"),
        ("if not uvx.exists():", "if False:"),
        ("asked.touch()", "asked.exists()"),
        ("for former in FOLDER.iterdir():", "for former in ():"),
        ("*packed, LOCK, LICENCE", "LOCK, LICENCE"),
    ),
]
