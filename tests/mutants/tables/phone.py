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
    *in_file(
        "jobs/phone/compiling.py",
        "phone/compiling",
        ("sums = hashlib.sha256(runtime.SUMS.read_bytes())", "sums = hashlib.sha256()"),
        ("sorted((files | programs).items())", "sorted(programs.items())"),
        ("    if not made.is_dir():\n        _make", "    if True:\n        _make"),
        ("if ran.returncode:", "if False:"),
        ("if former != made and not", "if not"),
        ('if f"{name}c" not in modules}', "if False}"),
    ),
    *in_file(
        "jobs/acts/new_limits.py",
        "acts/changed_meanwhile",
        ("and row[1].by_phone]", "and not row[1].by_phone]"),
        ("return min(said, at) if", "return at if"),
        ("history_date__gt=at", "history_date__lt=at"),
        (" or rows.first()", " or rows.last()"),
        ("in now_failed and where not in", "in now_failed and where in"),
    ),
    *in_file(
        "jobs/acts/doing.py",
        "acts/changed_meanwhile",
        ("if visit.status == Visit.Status.CANCELLED:", "if False:"),
    ),
    *in_file(
        "jobs/acts/door.py",
        "acts/changed_meanwhile",
        ("if told.needs is None:", "if True:"),
    ),
    *in_file(
        "jobs/pages/told_later.py",
        "acts/changed_meanwhile",
        ("labels[template, key] = labels[None, key]", "labels[template, key]"),
    ),
    *in_file(
        "jobs/workflows/records.py",
        "acts/changed_meanwhile",
        (".first() if version else None", ".first() if not version else None"),
    ),
    *in_file(
        "jobs/workflows/answers.py",
        "acts/changed_meanwhile",
        (".of_technician(by).standing().filter(job", ".of_technician(by).filter(job"),
    ),
]
