"""What is done on a record besides answering: steps, waits, overrides, cautions, closing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from jobs.access import allow, records_for
from jobs.errors import JobsError, RecordIncomplete
from jobs.fieldwork.kinds import LineKind
from jobs.fieldwork.pump import figures_of
from jobs.fieldwork.sheet import Block, Sheet
from jobs.forms.dial_steps import ReadStepForm, SetStepForm
from jobs.forms.fields import refuse
from jobs.forms.strips import StripsForm
from jobs.http import StaffRequest
from jobs.models import (
    ChecklistRecord,
    ChecklistTemplate,
    Document,
    DoNotUse,
    Job,
    Visit,
)
from jobs.records.loading import load_sheet
from jobs.records.paper import paper_of
from jobs.workflows import answers, dial_back, leaving, notices, records, strips, timers
from jobs.workflows.way_out import WayOut

from .phone import served_for, starts_python
from .records import block_context, block_of, read_or_404, record_or_404, visit_of

WAITS: dict[str, Callable[..., object]] = {
    "start": timers.start_timer,
    "stop": timers.stop_timer,
    "again": timers.restart_timer,
}


@allow("technician")
def record_open(request: StaffRequest, pk: int) -> HttpResponse:
    """The record of a job: shown where it is begun, begun where it is not."""
    job = get_object_or_404(
        Job.objects.filter(visits__in=Visit.objects.of_technician(request.user)).distinct(), pk=pk
    )
    purpose = request.POST.get("purpose") or records.usual_purpose(job)
    if request.method == "POST":
        try:
            record = records.open_record(
                job=job, purpose=purpose, by=request.user, now=timezone.now()
            )
        except JobsError as refusal:
            messages.error(request, refusal.message)
        else:
            return redirect("record-detail", pk=record.pk)
    found = job.records.filter(template__purpose=purpose).first()
    if found:
        return redirect("record-detail", pk=found.pk)
    purposes = ChecklistTemplate.objects.filter(is_current=True)
    return render(
        request, "records/open.html", {"job": job, "purposes": purposes, "usual": purpose}
    )


def _said(request: StaffRequest, work: Callable[[], object]) -> bool:
    """Do it; a refusal becomes a message on the page the person comes back to."""
    try:
        work()
    except JobsError as refusal:
        messages.error(request, refusal.message)
        return False
    return True


def _back(request: StaffRequest, record: ChecklistRecord) -> HttpResponse:
    block = request.POST.get("block", "")
    if block and record.template.lines.filter(block=block).exists():
        return redirect("record-block", pk=record.pk, block=block)
    return redirect("record-detail", pk=record.pk)


@allow("technician")
@require_POST
def record_step(request: StaffRequest, pk: int) -> HttpResponse:
    """The dosing pump was set: the wait begins."""
    record, sheet = read_or_404(request, pk)
    form = SetStepForm(request.POST, figures=figures_of(sheet))
    if form.is_valid():
        try:
            _set(record, sheet, form, request)
            return redirect(_dial_page(sheet))
        except JobsError as refusal:
            refuse(form, refusal)
    return _dial_again(request, pk, set_form=form)


def _set(record: ChecklistRecord, sheet: Sheet, form: SetStepForm, request: StaffRequest) -> None:
    step = dial_back.set_step(
        record=record,
        setting=form.setting,
        drawdown_ml_min=form.cleaned_data["drawdown_ml_min"],
        tap_flow_gpm=form.cleaned_data["tap_flow_gpm"],
        is_set_already=form.cleaned_data["is_set_already"],
        by=request.user,
        now=sheet.now,
    )
    if step.against:
        said = f"Kept, against the rule: {step.against} {dial_back.WHAT_NOW}"
        messages.error(request, said)


@allow("technician")
@require_POST
def record_strips(request: StaffRequest, pk: int) -> HttpResponse:
    """The strips that read from now on, with their blank and the known mix."""
    record, sheet = read_or_404(request, pk)
    form = StripsForm(request.POST, oxidant=sheet.oxidant)
    if form.is_valid():
        try:
            strips.take_strips(record=record, strips=form.strips, by=request.user, now=sheet.now)
            return redirect(_dial_page(sheet))
        except JobsError as refusal:
            refuse(form, refusal)
    return _dial_again(request, pk, strips_form=form)


def _dial_block(sheet: Sheet) -> Block:
    """The page that holds the steps; a record without steps has none."""
    for item in sheet.items:
        if item.line.kind == LineKind.STEPS:
            return block_of(sheet, item.line.block)
    raise Http404


def _dial_page(sheet: Sheet) -> str:
    return reverse("record-block", args=[sheet.record.pk, _dial_block(sheet).key])


def _dial_again(request: StaffRequest, pk: int, **forms: object) -> HttpResponse:
    """The dial-back page with a refused form as it was typed."""
    record, sheet = read_or_404(request, pk)
    context = block_context(request, record, sheet, _dial_block(sheet), {}) | forms
    return render(request, "records/block.html", context, status=422)


@allow("technician")
@require_POST
def record_step_read(request: StaffRequest, pk: int, number: int) -> HttpResponse:
    """Look and residual of a step, or why it could not be read, or: this one stays."""
    record, sheet = read_or_404(request, pk)
    step: dict[str, Any] = {
        "record": record,
        "number": number,
        "by": request.user,
        "now": sheet.now,
    }
    sent = request.POST
    acts: dict[str, Callable[[], object]] = {
        "keep": lambda: dial_back.keep_as_final(**step),
        "checked": lambda: dial_back.check_feeder(found=sent["checked"], **step),
        "leave": lambda: leaving.leave_so(record=record, by=request.user, now=sheet.now),
        "skip": lambda: dial_back.skip_step(reason=sent.get("reason", ""), **step),
    }
    for name, act in acts.items():
        if name in sent:
            _said(request, act)
            return redirect(_dial_page(sheet))
    form = ReadStepForm(request.POST, oxidant=sheet.oxidant)
    if form.is_valid() and _read(request, form, record, number):
        return redirect(_dial_page(sheet))
    return _dial_again(request, pk, read_form=form)


def _read(request: StaffRequest, form: ReadStepForm, record: ChecklistRecord, number: int) -> bool:
    seen = dial_back.Seen(
        form.cleaned_data["look"],
        *form.residual,
        iron_clear=form.said("iron_clear"),
        odour_clear=form.said("odour_clear"),
        colour_gone=form.said("colour_gone"),
        by_strip=form.by_strip,
    )
    try:
        dial_back.read_step(
            record=record, number=number, seen=seen, by=request.user, now=timezone.now()
        )
    except JobsError as refusal:
        refuse(form, refusal)
        return False
    return True


@allow("technician")
@require_POST
def record_timer(request: StaffRequest, pk: int) -> HttpResponse:
    """A wait begins, ends, begins anew, or its last act is taken back with a reason."""
    record, post = record_or_404(request, pk), request.POST
    line, what, by, now = post.get("line", ""), post.get("do", ""), request.user, timezone.now()
    if what in ("start", "again") and "sure" not in post:
        messages.error(request, "Confirm first that the chlorine is in and reads its target.")
    elif what == "undo":
        reason = post.get("reason", "")
        _said(
            request,
            lambda: timers.undo_timer(record=record, line_key=line, reason=reason, by=by, now=now),
        )
    elif work := WAITS.get(what):
        _said(request, lambda: work(record=record, line_key=line, by=by, now=now))
    return _back(request, record)


@allow("technician")
@require_POST
def record_override(request: StaffRequest, pk: int) -> HttpResponse:
    """Pass over a line that must pass, or take that back."""
    record = record_or_404(request, pk)
    line, reason = request.POST.get("line", ""), request.POST.get("reason", "")
    way_out = WayOut("unplugged" in request.POST, request.POST.get("bypass", ""))
    by, now = request.user, timezone.now()
    if "back" in request.POST:
        _said(
            request,
            lambda: answers.take_back_override(record=record, line_key=line, by=by, now=now),
        )
    else:
        _said(
            request,
            lambda: answers.override_gate(
                record=record, line_key=line, reason=reason, by=by, now=now, way_out=way_out
            ),
        )
    return _back(request, record)


@allow("technician")
@require_POST
def record_acknowledge(request: StaffRequest, pk: int) -> HttpResponse:
    record = record_or_404(request, pk)
    _said(
        request,
        lambda: answers.acknowledge_caution(
            record=record,
            caution=request.POST.get("caution", ""),
            by=request.user,
            now=timezone.now(),
        ),
    )
    return _back(request, record)


@allow("technician")
@require_POST
def record_lift(request: StaffRequest, pk: int) -> HttpResponse:
    """Lift "do not use" on the readings of this record after flushing, once all have passed."""
    record, sheet = read_or_404(request, pk)
    reading = notices.out_of_pipes(sheet)
    if reading is None:
        messages.error(request, "The notice is lifted on the readings after flushing, all passed.")
        return _back(request, record)
    standing = DoNotUse.objects.standing().at_site(record.site)
    notice = standing.filter(level=DoNotUse.Level.NO_USE).first()
    if notice:
        by, now = request.user, sheet.now
        _said(
            request,
            lambda: notices.lift_notice(notice=notice, reading=reading, by=by, now=now),
        )
    return _back(request, record)


@allow("technician")
@starts_python
def record_close(request: StaffRequest, pk: int) -> HttpResponse:
    """Close the record, or the list of what stands against it."""
    record = record_or_404(request, pk)
    visit = visit_of(record, request)
    if record.is_closed:
        return redirect("record-detail", pk=pk)
    if request.method == "POST" and visit:
        try:
            records.close_record(record=record, visit=visit, by=request.user, now=timezone.now())
        except RecordIncomplete as refusal:
            messages.error(request, refusal.message)
        except JobsError as refusal:
            messages.error(request, refusal.message)
        else:
            messages.success(request, f"{record.template.title} closed.")
            return redirect("record-detail", pk=pk)
    sheet = load_sheet(record, now=timezone.now())
    context = {
        "record": record,
        "sheet": sheet,
        "missing": sheet.missing(),
        "visit": visit,
        "phone": served_for(request.user, record) if visit else None,
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "records/close.html", context, status=status)


@allow()
@require_safe
def record_print(request: StaffRequest, pk: int) -> HttpResponse:
    record, sheet = read_or_404(request, pk)
    visit = record.closed_in or record.job.visits.order_by("starts_at").last()
    return render(
        request,
        "records/print.html",
        {"paper": paper_of(record, sheet, visit=visit), "record": record},
    )


@allow()
@require_safe
def document(request: StaffRequest, pk: int) -> HttpResponse:
    """The stored bytes, the same for everybody and for ever."""
    own = records_for(request.user)
    found = get_object_or_404(Document.objects.filter(record__in=own), pk=pk)
    response = HttpResponse(bytes(found.content), content_type="application/pdf")
    newest = Document.objects.filter(record=found.record_id).first()
    replaced = "" if found == newest else "-replaced"
    response["Content-Disposition"] = f'inline; filename="record-{found.record_id}{replaced}.pdf"'
    response["ETag"] = f'"{found.sha256}"'
    return response
