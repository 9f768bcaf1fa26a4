"""What is done on a record besides answering: steps, waits, overrides, cautions, closing."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from jobs.access import allow, has_role, records_for
from jobs.errors import JobsError
from jobs.fieldwork.going_on import may_stay_open
from jobs.fieldwork.kinds import LineKind
from jobs.fieldwork.pump import figures_of
from jobs.fieldwork.sheet import Block, Sheet
from jobs.forms.dial_steps import ReadStepForm, SetStepForm
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
from jobs.pages.told_later import waiting_on
from jobs.records.paper import paper_of
from jobs.workflows import notices, records

from .acting import posted, send_act, tell_or_say
from .phone import served_for, starts_python
from .records import block_context, block_of, read_or_404, record_or_404, visit_of

#: what can be done with a wait
WAITS = ("start", "stop", "again", "undo")
#: buttons beside a step, and the kind of their act
PRESSED = {
    "keep": "step-keep",
    "checked": "step-checked",
    "skip": "step-skip",
    "leave": "step-leave",
}


@allow("technician")
def record_open(request: StaffRequest, pk: int) -> HttpResponse:
    """The record of a job: shown where it is begun, begun where it is not."""
    job = get_object_or_404(
        Job.objects.filter(visits__in=Visit.objects.of_technician(request.user)).distinct(), pk=pk
    )
    asked = request.POST.get("purpose") or request.GET.get("purpose")
    purpose = asked or records.usual_purpose(job)
    visit = job.visits.of_technician(request.user).order_by("starts_at").last()
    if request.method == "POST":
        tell_or_say(request, "record-open", {"purpose": purpose}, visit=visit)
    found = job.records.filter(template__purpose=purpose).first()
    if found:
        return redirect("record-next", pk=found.pk)
    purposes = ChecklistTemplate.objects.filter(is_current=True)
    context = {"job": job, "purposes": purposes, "usual": purpose, "visit": visit}
    return render(request, "records/open.html", context)


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
    page = _dial_page(sheet)
    if sent := send_act(request, form, "step-set", page, record=record):
        return sent
    return _dial_again(request, pk, set_form=form)


@allow("technician")
@require_POST
def record_strips(request: StaffRequest, pk: int) -> HttpResponse:
    """The strips that read from now on, with their blank and the known mix."""
    record, sheet = read_or_404(request, pk)
    form = StripsForm(request.POST, oxidant=sheet.oxidant)
    if sent := send_act(request, form, "strips", _dial_page(sheet), record=record):
        return sent
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
    sent, page = request.POST, _dial_page(sheet)
    for name, kind in PRESSED.items():
        if name in sent:
            told = {"number": number, "found": sent.get("checked", ""), "reason": _reason(request)}
            told |= {"leave": sent.get("leave", "")}
            tell_or_say(request, kind, told, record=record)
            return redirect(page)
    form = ReadStepForm(request.POST, oxidant=sheet.oxidant)
    about = {"payload": {**posted(request), "number": number}, "record": record}
    if read := send_act(request, form, "step-read", page, **about):
        return read
    return _dial_again(request, pk, read_form=form)


def _reason(request: StaffRequest) -> str:
    return request.POST.get("reason", "")


@allow("technician")
@require_POST
def record_timer(request: StaffRequest, pk: int) -> HttpResponse:
    """A wait begins, ends, begins anew, or its last act is taken back with a reason."""
    record, what = record_or_404(request, pk), request.POST.get("do", "")
    if what in WAITS:
        tell_or_say(request, f"timer-{what}", posted(request), record=record)
    return _back(request, record)


@allow("technician")
@require_POST
def record_override(request: StaffRequest, pk: int) -> HttpResponse:
    """Pass over a line that must pass, or take that back."""
    record = record_or_404(request, pk)
    kind = "override-back" if "back" in request.POST else "override"
    tell_or_say(request, kind, posted(request), record=record)
    return _back(request, record)


@allow("technician")
@require_POST
def record_acknowledge(request: StaffRequest, pk: int) -> HttpResponse:
    record = record_or_404(request, pk)
    tell_or_say(request, "acknowledge", posted(request), record=record)
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
    rows = standing.filter(level=DoNotUse.Level.NO_USE)
    notice = min(rows, key=lambda row: row.is_ended_in_words, default=None)
    if notice:
        try:
            notices.lift_notice(notice=notice, reading=reading, by=request.user, now=sheet.now)
        except JobsError as refusal:
            messages.error(request, refusal.message)
    return _back(request, record)


def _close(request: StaffRequest, record: ChecklistRecord, visit: Visit) -> bool:
    return tell_or_say(request, "record-close", {}, record=record, visit=visit)


@allow("technician")
@starts_python
def record_close(request: StaffRequest, pk: int) -> HttpResponse:
    """Close the record, or the list of what stands against it."""
    record, sheet = read_or_404(request, pk)
    visit = visit_of(record, request)
    if record.is_closed:
        return redirect("record-detail", pk=pk)
    if request.method == "POST" and visit and _close(request, record, visit):
        return redirect("record-detail", pk=pk)
    context = {
        "record": record,
        "sheet": sheet,
        "missing": sheet.missing(),
        "may_stay": may_stay_open(sheet),
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
        {
            "paper": paper_of(record, sheet, visit=visit),
            "record": record,
            "told_later": waiting_on(record),
        },
    )


@allow()
@require_safe
def document(request: StaffRequest, pk: int) -> HttpResponse:
    """The stored bytes, the same for everybody and for ever."""
    own = records_for(request.user)
    found = get_object_or_404(Document.objects.filter(record__in=own), pk=pk)
    if found.shows_withdrawn and not has_role(request.user, "owner"):
        raise Http404
    response = HttpResponse(bytes(found.content), content_type="application/pdf")
    newest = Document.objects.filter(record=found.record_id).first()
    replaced = "" if found == newest else "-replaced"
    response["Content-Disposition"] = f'inline; filename="record-{found.record_id}{replaced}.pdf"'
    response["ETag"] = f'"{found.sha256}"'
    return response
