"""The PDF of a record: made once as it closes, its bytes kept and served everywhere."""

from __future__ import annotations

import hashlib
import json
from datetime import datetime
from functools import cache
from pathlib import Path

import typst
from django.conf import settings

from jobs.models import ChecklistRecord, Document, Visit
from jobs.records.loading import load_sheet
from jobs.records.paper import paper_of

TEMPLATE = Path("templates/documents/record.typ")
SHEET = Path("templates/documents/sheet.typ")


@cache
def _source(template: Path) -> bytes:
    return (Path(settings.BASE_DIR) / template).read_bytes()


def make_document(
    *, record: ChecklistRecord, visit: Visit | None, now: datetime, version: int = 1
) -> Document:
    """Typeset what that version of the record says; the caller holds the transaction."""
    found = record.documents.order_by("made_at", "pk")[version - 1 : version].first()
    if found:
        return found
    paper = paper_of(record, load_sheet(record, now=now), visit=visit)
    content = typeset(paper, at=now)
    of_version = f", version {version}" if version > 1 else ""
    return Document.objects.create(
        record=record,
        site=record.site,
        title=f"{record.template.title}, {record.site}"[:100] + of_version,
        made_at=now,
        content=content,
        sha256=hashlib.sha256(content).hexdigest(),
    )


def typeset(paper: dict[str, object], *, at: datetime, template: Path = TEMPLATE) -> bytes:
    """PDF bytes; the same data and moment give the same bytes."""
    compiled = typst.compile(
        _source(template),
        format="pdf",
        sys_inputs={"paper": json.dumps(paper, ensure_ascii=False)},
        ignore_system_fonts=True,
        timestamp=int(at.timestamp()),
        pdf_standards="ua-1",
    )
    assert isinstance(compiled, bytes)
    return compiled
