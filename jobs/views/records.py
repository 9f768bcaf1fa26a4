"""Records: all pages of one, one page, one answer at a time, and the panels beside them."""

from __future__ import annotations

import json
from datetime import timedelta

from django.contrib import messages
from django.core.exceptions import BadRequest
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from jobs.access import allow, records_for, units_of
from jobs.acts import door
from jobs.acts.doing import visit_of as visit_there
from jobs.acts.from_pages import decide_posted, save_posted
from jobs.errors import NotAllowed, OtherContent
from jobs.fieldwork.asked import Asked, Item
from jobs.fieldwork.facts import Stage
from jobs.fieldwork.facts_json import to_json
from jobs.fieldwork.glasses import show
from jobs.fieldwork.going_on import first_open, goes_on
from jobs.fieldwork.kinds import KEPT_BY_PAGE, LineKind
from jobs.fieldwork.panels.run import Outcomes
from jobs.fieldwork.panels.table import PANELS
from jobs.fieldwork.sheet import Block, Sheet
from jobs.forms.record_items import keys_shown, with_taken
from jobs.http import StaffRequest
from jobs.models import ChecklistRecord, Photo, StripCheck, Visit
from jobs.pages import photos
from jobs.pages.handed import facts_for_phone
from jobs.pages.record import dial_context, may_lift, progress
from jobs.pages.told_later import waiting_on
from jobs.phone.gates import advice_on
from jobs.phone.live import boxes_of, renewed_panels
from jobs.phone.part import Look, above, add_of_sheet, alike, counted, opened, part
from jobs.phone.rows import row_of
from jobs.records.loading import load_facts, load_sheet
from jobs.records.poured import poured_of
from jobs.records.waits import taken_back
from jobs.wording.names import person
from jobs.workflows.answers import may_write
from jobs.workflows.corrections import may_correct
from jobs.workflows.records import begun_as
from jobs.workflows.strips import in_use_on

from .acting import kept_act, named_in
from .noted import noted
from .phone import served_for, starts_python

#: an act that another one goes before, or that is not this person's to tell
TOO_EARLY = 425
READ = ("job__site", "job__customer", "site", "train", "template", "closed_by", "closed_in")


def record_or_404(request: StaffRequest, pk: int) -> ChecklistRecord:
    """By its number, or by the one that a phone knows it by until it has heard that it is begun."""

    def read() -> ChecklistRecord:
        rows = records_for(request.user).select_related(*READ)
        record: ChecklistRecord = get_object_or_404(rows, pk=begun_as(pk))
        return record

    return noted(request, ("record", pk), read)


def read_or_404(request: StaffRequest, pk: int) -> tuple[ChecklistRecord, Sheet]:
    """The record and what it says now."""
    record = record_or_404(request, pk)
    return record, noted(request, ("sheet", pk), lambda: load_sheet(record, now=timezone.now()))


def visit_of(record: ChecklistRecord, request: StaffRequest) -> Visit | None:
    """The visit this person is on: under way, else the newest that is not cancelled."""
    about = ("visit of", record.job_id)
    return noted(request, about, lambda: visit_there(record, request.user))


def _strips_of(request: StaffRequest, record: ChecklistRecord, sheet: Sheet) -> StripCheck | None:
    found = noted(request, "strips in use", lambda: in_use_on([record], at=sheet.now))
    return found.get(record.pk)


def photos_of(request: StaffRequest, record: ChecklistRecord) -> list[Photo]:
    return noted(request, "photos of records", lambda: photos.by_record([record]))[record.pk]


def _may_write(record: ChecklistRecord, request: StaffRequest) -> bool:
    about = ("may write", record.job_id)
    return noted(request, about, lambda: may_write(record, request.user))


def block_of(sheet: Sheet, key: str) -> Block:
    block = sheet.block(key)
    if block is None:
        raise Http404
    return block


@allow()
@starts_python
@require_safe
def record_detail(request: StaffRequest, pk: int) -> HttpResponse:
    record, sheet = read_or_404(request, pk)
    visit = visit_of(record, request)
    return render(
        request,
        "records/detail.html",
        {
            "sheet": sheet,
            "record": record,
            "missing": sheet.missing(),
            "entries": progress(sheet),
            "visit": visit,
            "writes": not record.is_closed and visit is not None,
            "documents": list(record.documents.only("pk", "made_at", "sha256")),
            "corrections": list(record.corrections.select_related("by").order_by("-version")),
            "may_correct": may_correct(record, request.user),
            "told_later": waiting_on(record),
            **photos.split(photos_of(request, record)),
            "phone": served_for(request.user, record) if visit else None,
        },
    )


@allow()
@require_safe
def record_next(request: StaffRequest, pk: int) -> HttpResponse:
    """Who fills it goes on at the first part with something open; whoever reads sees all parts."""
    record, sheet = read_or_404(request, pk)
    writes = not record.is_closed and _may_write(record, request)
    if writes and (first := first_open(sheet)):
        return redirect(_page_url(sheet, first))
    return redirect("record-detail", pk=record.pk)


@allow()
@starts_python
def record_block(request: StaffRequest, pk: int, block: str) -> HttpResponse:
    """One page of a record. Save keeps every box; a refused one comes back as typed."""
    record, sheet = read_or_404(request, pk)
    page = block_of(sheet, block)
    errors: dict[str, str] = {}
    if request.method == "POST":
        post, now = with_taken(request.POST), sheet.now
        errors = save_posted(record, page.items, post, by=request.user, now=now)
        errors |= decide_posted(record, page, post, by=request.user, now=now)
        fresh = load_sheet(record, now=now)
        if not errors:
            return redirect(_after(request, sheet, fresh, page))
        sheet, page = fresh, block_of(fresh, block)
    return render(
        request,
        "records/block.html",
        block_context(request, record, sheet, page, errors),
        status=422 if errors else 200,
    )


def _after(request: StaffRequest, before: Sheet, fresh: Sheet, page: Block) -> str:
    """Stay where a line was left open or asked about, or ask what an answer opened, else go on."""
    post, here = request.POST, _page_url(fresh, page)
    if any(word in post for word in ("stay", "skip", "over", "unover", "take")):
        return here
    if counted := next((name for name in post if name.endswith("~cycle")), ""):
        return f"{here}#w-{counted.removesuffix('~cycle').replace('.', '-')}"
    going = goes_on(fresh, page, keys_shown(post) or {item.key for item in before.items})
    if going.opened and going.block:
        messages.info(request, f"Your answer asks for more: {going.opened.label}.")
        return f"{_page_url(fresh, going.block)}#w-{going.opened.dom_id}"
    if going.block:
        return _page_url(fresh, going.block)
    return reverse("record-close", args=[fresh.record.pk])


def _page_url(sheet: Sheet, page: Block) -> str:
    return reverse("record-block", args=[sheet.record.pk, page.key])


def _next_url(sheet: Sheet, page: Block) -> str:
    """Where a phone without signal goes on."""
    later = [block for block in sheet.blocks if block.number > page.number]
    return _page_url(sheet, later[0]) if later else reverse("record-detail", args=[sheet.record.pk])


def block_context(
    request: StaffRequest,
    record: ChecklistRecord,
    sheet: Sheet,
    page: Block,
    errors: dict[str, str],
) -> dict[str, object]:
    writes = not record.is_closed and _may_write(record, request)
    look = Look(
        clock=timezone.localtime,
        system=units_of(request.user),
        panel_boxes=request.GET.dict(),
        typed=request.POST.dict() if errors else {},
        errors=errors,
        writes=writes,
    )
    return {
        "sheet": sheet,
        "record": record,
        "done": {entry.number for entry in sheet.blocks if entry.is_done},
        "writes": writes,
        "next_url": _next_url(sheet, page),
        "part_photos": photos.of_block(photos_of(request, record), page.key),
        "phone": served_for(request.user, record) if writes else None,
        **part(sheet, page, look),
        **_rows_above(record, sheet, page),
        **dial_context(sheet, page, lambda: _strips_of(request, record, sheet)),
    }


def _rows_above(record: ChecklistRecord, sheet: Sheet, page: Block) -> dict[str, object]:
    """What rows say of the waits of a page."""
    waits = any(item.line.kind == LineKind.TIMER for item in page.items)
    return {
        "may_lift": may_lift(sheet, page),
        "poured": poured_of(record) if waits else [],
        "taken_back": taken_back(record) if waits else [],
    }


@allow("technician")
@require_POST
def record_answer(request: StaffRequest, pk: int) -> HttpResponse:
    """One line, saved as soon as it is left; answers with that line alone."""
    record, sheet = read_or_404(request, pk)
    item = _item_named(sheet, request.POST.get("item", ""))
    if item is None or item.line.kind in KEPT_BY_PAGE:
        raise BadRequest("Name the line that is answered.")
    told = kept_act(request, "answer", record)
    if told is None:
        errors = save_posted(record, (item,), request.POST, by=request.user, now=sheet.now)
        return _line_again(request, record, item, errors)
    try:
        given = door.answer_to(told, by=request.user, now=sheet.now)
    except (door.Earlier, NotAllowed, OtherContent):
        return HttpResponse(status=TOO_EARLY)  # the sender of the phone finds out why
    error = given.error
    errors = {item.box(str(told.payload.get("side", ""))): error.message} if error else {}
    return named_in(_line_again(request, record, item, errors), given)


def _line_again(
    request: StaffRequest, record: ChecklistRecord, item: Item, errors: dict[str, str]
) -> HttpResponse:
    """The line as it stands now, and what else is new on the page."""
    fresh = load_sheet(record, now=timezone.now())
    item, system = _item_named(fresh, item.key) or item, units_of(request.user)
    row = row_of(item, system=system, typed=request.POST.dict(), errors=errors)
    add_of_sheet(fresh, row, writes=True)
    context = {
        "row": row,
        "record": record,
        "writes": True,
        "counted": counted(fresh, item, system=system),
        **_standing_panels(request, fresh, item.line.block),
        "advice_glass": advice_on(fresh, item.line.block),
        "alike": alike(fresh, item, system=system),
        **_opened(request, record, fresh, item.line.block),
    }
    return render(request, "records/_item_saved.html", context, status=422 if errors else 200)


def _opened(
    request: StaffRequest, record: ChecklistRecord, sheet: Sheet, block: str
) -> dict[str, object]:
    """Lines that the answer opened and shut on the page in front of the person."""
    page, shown = sheet.block(block), keys_shown(request.POST)
    if page is None or not shown:
        return {}
    found = opened(sheet, page, shown, system=units_of(request.user))
    shut = sorted(shown - {item.key for item in sheet.items})
    if not found and not shut:
        return {}
    standing = above(sheet, page, clock=timezone.localtime)
    return {"opened": found, "shut": shut, **standing, **_rows_above(record, sheet, page)}


def _item_named(sheet: Sheet, key: str) -> Item | None:
    return next((item for item in sheet.items if item.key == key), None)


def _standing_panels(request: StaffRequest, sheet: Sheet, block: str) -> dict[str, object]:
    """Panels to renew; an echo only under a box that the page already has."""
    typed = request.POST.dict()
    return renewed_panels(sheet, block, typed, boxes_of(typed), system=units_of(request.user))


@allow()
@require_safe
def record_panel(request: StaffRequest, pk: int, name: str) -> HttpResponse:
    """The inside of one measuring glass, computed from what is typed and what is kept."""
    record = record_or_404(request, pk)
    asked = Asked(load_facts(record, now=timezone.now()))
    panel = PANELS.get(name)
    if panel is None:
        raise Http404
    stage: Stage | None = None
    if panel.each:
        wanted = request.GET.get("stage", "")
        stage = next((part for part in asked.stages if str(part.pk) == wanted), None)
        if stage is None:
            raise Http404
    typed = request.GET.dict()
    page, system = typed.get("page", ""), units_of(request.user)
    writes, outcomes = may_write(record, request.user), Outcomes(asked, PANELS)
    shown = show(outcomes, panel, stage, typed, block=page, system=system, writes=writes)
    context = {"shown": shown, "glass": shown.glass, "live": bool(shown.echo_at)}
    return render(request, "parts/_measure_inside.html", context)


@allow("technician")
@require_safe
def record_facts(request: StaffRequest, pk: int) -> HttpResponse:
    """The record as a phone reads it: every moment is in the company's time."""
    record, now = record_or_404(request, pk), timezone.now()
    offset = timezone.localtime(now).utcoffset() or timedelta()
    facts = facts_for_phone(record, now=now)
    return JsonResponse(
        {
            "facts": json.loads(to_json(facts, timezone.get_current_timezone())),
            "by": {"name": person(request.user), "id": request.user.pk},
            "system": units_of(request.user),
            "utc_offset_minutes": offset // timedelta(minutes=1),
            "now": now.isoformat(),
        }
    )
