"""Correcting a closed record: first which answer, then what is right and why."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from jobs.access import allow
from jobs.fieldwork.asked import Item
from jobs.fieldwork.keys import LineKey
from jobs.fieldwork.kinds import KEPT_BY_PAGE
from jobs.fieldwork.pump import head_of
from jobs.fieldwork.sheet import Sheet
from jobs.fieldwork.states import FAILED
from jobs.forms.corrections import (
    CorrectionForm,
    StepCorrectionForm,
    TellingCorrectionForm,
    WaitCorrectionForm,
)
from jobs.http import StaffRequest
from jobs.models import ChecklistRecord
from jobs.models.coming import again_after
from jobs.records.loading import load_sheet
from jobs.records.paper import printed, waited
from jobs.records.poured import POUR_TOLD, poured_of, telling_said
from jobs.records.steps import step_said
from jobs.workflows.corrections import correct_record, may_correct
from jobs.workflows.step_corrections import correct_step, correct_wait
from jobs.workflows.telling_corrections import HERE, correct_telling

from .records import read_or_404
from .sending import form_page, send_once


@allow()
def record_correct(request: StaffRequest, pk: int) -> HttpResponse:
    """A newer version of a closed record; the customer gets the new page."""
    record, sheet = read_or_404(request, pk)
    if not record.is_closed:
        return redirect("record-detail", pk=pk)
    if not may_correct(record, request.user):
        raise PermissionDenied
    for word, page in PAGES.items():
        if word in request.GET:
            return page(request, record, sheet)
    if "item" in request.GET:
        return _correct_answer(request, record, sheet)
    shown = {"record": record, "rows": _answers(sheet), "told": _told(record, sheet)}
    return render(request, "records/correct.html", shown)


def _correct_answer(request: StaffRequest, record: ChecklistRecord, sheet: Sheet) -> HttpResponse:
    key, side = request.GET["item"], request.GET.get("side", "")
    item = next((i for i, s, _ in _answers(sheet) if i.key == key and s == side), None)
    if item is None:
        raise Http404
    told = {name: request.GET[name] for name in ("text", "unit") if request.GET.get(name)}
    form = CorrectionForm(request.POST or None, item=item, side=side, initial=told)

    def work() -> str:
        by, now, right = request.user, timezone.now(), form.right()
        correct_record(record=record, item_key=key, side=side, right=right, by=by, now=now)
        return _corrected(request, record, key)

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    shown = {"record": record, "label": item.label, "before": printed(item, side)}
    return form_page(request, "records/correct.html", form, **shown)


def _correct_step(request: StaffRequest, record: ChecklistRecord, sheet: Sheet) -> HttpResponse:
    """Setting, reading and times of one step of the dial-back."""
    wanted = request.GET["step"]
    step = next((each for each in sheet.steps if str(each.number) == wanted), None)
    if step is None:
        raise Http404
    form = StepCorrectionForm(request.POST or None, sheet=sheet, step=step)

    def work() -> str:
        number, right, now = step.number, form.right(), timezone.now()
        correct_step(record=record, number=number, right=right, by=request.user, now=now)
        return _corrected(request, record, LineKey.STEPS)

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    label, before = f"Step {step.number}", step_said(record, step, head_of(sheet))
    shown = {"record": record, "label": label, "before": before}
    return form_page(request, "records/correct.html", form, **shown)


def _correct_wait(request: StaffRequest, record: ChecklistRecord, sheet: Sheet) -> HttpResponse:
    """From when and to when a wait has lasted."""
    item = next((i for i in sheet.items if i.key == request.GET["wait"] and i.timer), None)
    if item is None or item.timer is None:
        raise Http404
    form, key = WaitCorrectionForm(request.POST or None, wait=item.timer), item.key

    def work() -> str:
        right, now = form.right(), timezone.now()
        correct_wait(record=record, line_key=key, right=right, by=request.user, now=now)
        return _corrected(request, record, key)

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    shown = {"record": record, "label": item.label, "before": waited(item.timer, record)}
    return form_page(request, "records/correct.html", form, **shown)


def _correct_telling(request: StaffRequest, record: ChecklistRecord, sheet: Sheet) -> HttpResponse:
    """Who was told at a house before chlorine went in."""
    wanted = request.GET["told"]
    row = next((each for each in poured_of(record) if str(each.house) == wanted), None)
    if row is None:
        raise Http404
    form = TellingCorrectionForm(request.POST or None, row=row)

    def work() -> str:
        right, now = form.right(), timezone.now()
        correct_telling(record=record, house=row.house, right=right, by=request.user, now=now)
        return _corrected(request, record, POUR_TOLD)

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    label, before = f"{HERE}: {row.site}", telling_said(record, row)
    shown = {"record": record, "label": label, "before": before}
    return form_page(request, "records/correct.html", form, **shown)


PAGES = {"step": _correct_step, "wait": _correct_wait, "told": _correct_telling}


def _corrected(request: StaffRequest, record: ChecklistRecord, key: str) -> str:
    """Said once it is done, with what does not pass any more."""
    messages.success(request, "Corrected. The new print is made, the customer is written to.")
    items = load_sheet(record, now=timezone.now()).items
    item = next((i for i in items if i.key == key), None)
    if item and item.state == FAILED:
        messages.warning(request, f"As it is now, it does not pass. {item.label}: {item.sentence}")
    for row in again_after(record):
        messages.warning(request, f"The office has it on the worklist: {row.terms.name}.")
    return reverse("record-detail", args=[record.pk])


def _told(record: ChecklistRecord, sheet: Sheet) -> list[tuple[str, str, str]]:
    """Tellings, waits and steps that may be put right: address, name and what the record says."""
    head = head_of(sheet)
    steps = [
        (f"step={s.number}", f"Step {s.number}", step_said(record, s, head)) for s in sheet.steps
    ]
    waits = [(f"wait={i.key}", i.label, waited(i.timer, record)) for i in sheet.items if i.timer]
    poured = [
        (f"told={row.house}", f"{HERE}: {row.site}", telling_said(record, row))
        for row in poured_of(record)
    ]
    return [*poured, *waits, *steps]


def _answers(sheet: Sheet) -> list[tuple[Item, str, str]]:
    """Every answer that may be put right: its line, its side and what it says."""
    lines = [item for item in sheet.items if item.line.kind not in KEPT_BY_PAGE]
    return [(item, side, printed(item, side)) for item in lines for side in item.sides]
