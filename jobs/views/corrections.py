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
from jobs.fieldwork.kinds import KEPT_BY_PAGE
from jobs.fieldwork.sheet import Sheet
from jobs.forms.corrections import CorrectionForm
from jobs.http import StaffRequest
from jobs.records.paper import printed
from jobs.workflows.corrections import correct_record, may_correct

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
    key, side = request.GET.get("item", ""), request.GET.get("side", "")
    if not key:
        shown = {"record": record, "rows": _answers(sheet)}
        return render(request, "records/correct.html", shown)
    item = next((i for i, s, _ in _answers(sheet) if i.key == key and s == side), None)
    if item is None:
        raise Http404
    told = {name: request.GET[name] for name in ("text", "unit") if request.GET.get(name)}
    form = CorrectionForm(request.POST or None, item=item, side=side, initial=told)

    def work() -> str:
        by, now, right = request.user, timezone.now(), form.right()
        correct_record(record=record, item_key=key, side=side, right=right, by=by, now=now)
        messages.success(request, "Corrected. The new print is made, the customer is written to.")
        return reverse("record-detail", args=[pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    shown = {"record": record, "item": item, "before": printed(item, side)}
    return form_page(request, "records/correct.html", form, **shown)


def _answers(sheet: Sheet) -> list[tuple[Item, str, str]]:
    """Every answer that may be put right: its line, its side and what it says."""
    lines = [item for item in sheet.items if item.line.kind not in KEPT_BY_PAGE]
    return [(item, side, printed(item, side)) for item in lines for side in item.sides]
