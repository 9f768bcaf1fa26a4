"""The PDF of a record: made once as it closes, its bytes kept and served everywhere."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import typst
from django.conf import settings

from jobs.models import ChecklistRecord, Document, Photo, Visit
from jobs.records.customer_paper import customer_paper
from jobs.records.loading import load_sheet

from .pictures import shrunk

FOLDER = Path("templates/documents")
ANSWERS = FOLDER / "answers.typ"
#: drawings and marks that every paper of the company shares; set before each
HAND, TEMPLATE, SHEET = FOLDER / "hand.typ", FOLDER / "record.typ", FOLDER / "sheet.typ"
#: a photo on paper needs no more dots than this
PRINTED_SIDE = 900


@cache
def _source(template: Path) -> bytes:
    base = Path(settings.BASE_DIR)
    return (base / HAND).read_bytes() + (base / template).read_bytes()


def make_document(
    *, record: ChecklistRecord, visit: Visit | None, now: datetime, version: int = 1
) -> Document:
    """Typeset what that version of the record says; the caller holds the transaction."""
    found = record.documents.order_by("made_at", "pk")[version - 1 : version].first()
    if found:
        return found
    pictures = photos_of(record)
    paper = customer_paper(record, load_sheet(record, now=now), visit=visit, photos=pictures)
    files = {f"{photo.pk}.jpg": content for photo, content in pictures}
    content = typeset(paper, at=now, files=files)
    of_version = f", version {version}" if version > 1 else ""
    return Document.objects.create(
        record=record,
        site=record.site,
        title=f"{record.template.title}, {record.site}"[:100] + of_version,
        made_at=now,
        content=content,
        sha256=hashlib.sha256(content).hexdigest(),
    )


def photos_of(record: ChecklistRecord) -> list[tuple[Photo, bytes]]:
    """The photos chosen for the customer whose files are there, small enough for paper."""
    found = []
    for photo in Photo.objects.filter(record=record).on_paper():
        if content := photo.picture.read():
            found.append((photo, shrunk(content, PRINTED_SIDE)))
    return found


def typeset(
    paper: dict[str, object],
    *,
    at: datetime,
    template: Path = TEMPLATE,
    files: Mapping[str, bytes] | None = None,
) -> bytes:
    """PDF bytes; the same data and moment give the same bytes."""
    with TemporaryDirectory() as made:
        folder = Path(made)
        for name, content in {**(files or {}), "main.typ": _source(template)}.items():
            (folder / name).write_bytes(content)
        compiled = typst.compile(
            folder / "main.typ",
            root=folder,
            format="pdf",
            sys_inputs={"paper": json.dumps(paper, ensure_ascii=False)},
            ignore_system_fonts=True,
            timestamp=int(at.timestamp()),
            pdf_standards="ua-1",
        )
    assert isinstance(compiled, bytes)
    return compiled
