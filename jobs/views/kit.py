"""The kit of the day as a phone fetches it: facts and pages of own visits, in one answer."""

from __future__ import annotations

import copy
import re
from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any

from django.contrib.messages.storage.base import BaseStorage
from django.http import HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_safe

from jobs.access import units_of
from jobs.acts.doing import visits_of
from jobs.fieldwork.facts import Facts
from jobs.fieldwork.going_on import first_open
from jobs.fieldwork.keys import BlockKey
from jobs.fieldwork.sheet import Block, read_sheet
from jobs.http import StaffRequest
from jobs.models import ChecklistRecord, Visit
from jobs.pages.handed import all_for_phone
from jobs.pages.kit import (
    cards_of_kit,
    facts_said,
    is_begun,
    kit_said,
    lines_said,
    records_of_kit,
    visits_of_kit,
)
from jobs.pages.photos import by_record, by_visit
from jobs.wording.names import person
from jobs.workflows.strips import in_use_on

from .field import app_said, for_phones, said
from .my_day import begins_of, day_context
from .noted import keep_notes
from .notices import notice_new
from .photos import record_photos, visit_photos
from .pouring import record_pour
from .record_steps import record_close
from .records import read_or_404, record_block, record_detail
from .visits import visit_close, visit_no_access

Pages = dict[str, str]
#: of a visit to come
VISIT_FORMS = {
    "visit-close": visit_close,
    "visit-no-access": visit_no_access,
    "visit-photos": visit_photos,
}
#: the token of a page is masked anew each time; one for all of a kit packs better
TOKEN = re.compile(r'(?<=csrfmiddlewaretoken" value=")\w{64}|(?<=X-CSRFToken": ")\w{64}')

#: lines between two tags, and how far they are set in
BETWEEN = re.compile(r"(?<=>)\s+(?=<)")


@gzip_page
@require_safe
@for_phones
def kit(request: StaffRequest) -> HttpResponse:
    """Whole or not at all: a phone keeps it in one go."""
    now = timezone.now()
    visits = visits_of_kit(request.user, now=now)
    parts = _parts(request, visits, now)
    return said(200, **kit_said(request.user, now=now, app=app_said(), parts=parts))


def _parts(request: StaffRequest, visits: list[Visit], now: datetime) -> dict[str, Any]:
    quiet = _quiet(request)
    cards, records = cards_of_kit(visits, now=now), records_of_kit(visits, request.user, now=now)
    facts = all_for_phone(list(records.values()), now=now)
    _take_notes(quiet, visits, records, facts, now)
    checklists: dict[str, object] = {}
    rows = []
    for visit in visits:
        record, card = records.get(visit.job_id), cards[visit.pk]
        pages = _pages(_visit_pages(quiet, visit, card, record))
        row = {"visit": visit.pk, "job": visit.job_id, "version": visit.version, "card": card}
        if record:
            _, sheet = read_or_404(quiet, record.pk)
            row |= _record_row(record, facts[record.pk], first_open(sheet), checklists)
            pages |= _pages(_record_pages(quiet, record))
        rows.append({**row, "pages": pages})
    return {
        "by": {"name": person(request.user), "id": request.user.pk},
        "system": units_of(request.user),
        "checklists": checklists,
        "visits": rows,
        "pages": _pages(_day_pages(quiet, visits, records, now)),
    }


def _record_row(
    record: ChecklistRecord, facts: Facts, first: Block | None, checklists: dict[str, object]
) -> dict[str, Any]:
    """The facts of a record; the lines of its checklist are said once; where it goes on."""
    zone, number = timezone.get_current_timezone(), str(record.template_id)
    if number not in checklists:
        checklists[number] = lines_said(facts, zone)
    said = {"record": record.pk, "facts": facts_said(facts, zone), "checklist": number}
    return {**said, "first": first.key if first else ""}


def _quiet(request: StaffRequest) -> StaffRequest:
    """Who asks, opening one page after the other; messages that wait are left where they are."""
    quiet = copy.copy(request)
    quiet.GET = QueryDict()
    quiet.resolver_match = None
    quiet._messages = Silent(quiet)  # type: ignore[attr-defined]
    return quiet


def _take_notes(
    quiet: StaffRequest,
    visits: list[Visit],
    records: dict[int, ChecklistRecord],
    facts: dict[int, Facts],
    now: datetime,
) -> None:
    """What the pages would ask for one by one, in as many queries for eight visits as for one."""
    notes = keep_notes(quiet)
    there = visits_of(list(records), quiet.user)
    notes.update({("visit", visit.pk): visit for visit in visits})
    notes.update({("house", visit.job.site_id): visit.job.site for visit in visits})
    notes.update({("visit of", job): there.get(job) for job in records})
    notes.update({("may write", job): True for job in there})
    notes["photos of records"] = by_record(list(records.values()))
    notes["photos of visits"] = by_visit(visits)
    notes["strips in use"] = in_use_on(list(records.values()), at=now)
    for record in records.values():
        notes["record", record.pk] = record
        notes["sheet", record.pk] = read_sheet(facts[record.pk], now=now)
        notes["poured", record.pk] = facts[record.pk].beside.poured


class Silent(BaseStorage):
    """Says nothing and keeps nothing."""

    def _get(self, *args: Any, **kwargs: Any) -> tuple[list[Any], bool]:
        return [], True

    def _store(self, *args: Any, **kwargs: Any) -> list[Any]:
        return []


def _pages(found: Iterable[tuple[str, HttpResponse]]) -> Pages:
    """Address to page, all with one token, and nothing between two tags but one line."""
    good = ((path, answer.content.decode()) for path, answer in found if answer.status_code == 200)
    texts = {path: BETWEEN.sub("\n", text) for path, text in good}
    token = next((hit[0] for text in texts.values() if (hit := TOKEN.search(text))), "")
    return {path: TOKEN.sub(token, text) for path, text in texts.items()}


def _day_pages(
    request: StaffRequest,
    visits: list[Visit],
    records: dict[int, ChecklistRecord],
    now: datetime,
) -> Iterator[tuple[str, HttpResponse]]:
    to_begin = {job: record for job, record in records.items() if not is_begun(record)}
    day = day_context(visits, now=now, days_shown=1, to_begin=to_begin)
    context = {**day, "carried": True}
    yield reverse("my-day"), render(request, "my_day.html", context)
    yield reverse("field-absent"), render(request, "field/absent.html")


def _visit_pages(
    request: StaffRequest, visit: Visit, card: dict[str, Any], record: ChecklistRecord | None
) -> Iterator[tuple[str, HttpResponse]]:
    """One page with what a technician needs of a visit, and the forms that end it."""
    begun = record is not None and is_begun(record)
    context = {
        "visit": visit,
        "card": card,
        "record": record,
        "is_begun": begun,
        "begins": begins_of(visit, record) if record and not begun else None,
        "record_url": reverse("record-next", args=[record.pk]) if record else "",
        "record_word": "Go on with the record",
        "carried": True,
    }
    yield reverse("visit-detail", args=[visit.pk]), render(request, "field/visit.html", context)
    if visit.is_to_come:
        for name, view in VISIT_FORMS.items():
            yield reverse(name, args=[visit.pk]), view(request, visit.pk)
    yield reverse("notice-new", args=[visit.job.site_id]), notice_new(request, visit.job.site_id)


def _record_pages(
    request: StaffRequest, record: ChecklistRecord
) -> Iterator[tuple[str, HttpResponse]]:
    _, sheet = read_or_404(request, record.pk)
    yield reverse("record-detail", args=[record.pk]), record_detail(request, record.pk)
    yield reverse("record-close", args=[record.pk]), record_close(request, record.pk)
    yield reverse("record-photos", args=[record.pk]), record_photos(request, record.pk)
    for block in sheet.blocks:
        path = reverse("record-block", args=[record.pk, block.key])
        yield path, record_block(request, record.pk, block.key)
    if sheet.block(BlockKey.DISINFECT):
        yield reverse("record-pour", args=[record.pk]), record_pour(request, record.pk)
