"""The checklists: what is shipped, what the company edits of it, and how versions differ."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.access import allow
from jobs.errors import JobsError
from jobs.forms.checklists import LineForm, OwnLineForm
from jobs.http import StaffRequest
from jobs.models import ChecklistLine, ChecklistTemplate
from jobs.pages.checklists import compared, list_page
from jobs.workflows import checklist_templates as workflow

from .sending import form_page, send_once

FORM = require_http_methods(["GET", "HEAD", "POST"])


@allow("owner")
@require_safe
def templates(request: StaffRequest) -> HttpResponse:
    rows = ChecklistTemplate.objects.annotate(line_count=Count("lines"))
    rows = rows.order_by("purpose", "-version")
    return render(request, "owner/templates.html", {"nav": "rules", "templates": rows})


@allow("owner")
@require_safe
def template_detail(request: StaffRequest, pk: int) -> HttpResponse:
    template = get_object_or_404(ChecklistTemplate, pk=pk)
    context = list_page(template) | compared(template, request.GET.get("against", ""))
    return render(request, "owner/template_detail.html", {"nav": "rules", **context})


def _kept(request: StaffRequest, newer: ChecklistTemplate) -> str:
    messages.success(request, f"Kept as version {newer.version}. Records begun keep theirs.")
    return reverse("template-detail", args=[newer.pk])


@allow("owner")
@FORM
def template_line(request: StaffRequest, pk: int, key: str) -> HttpResponse:
    template = get_object_or_404(ChecklistTemplate, pk=pk)
    line = get_object_or_404(ChecklistLine, template=template, key=key)
    form = LineForm(request.POST or None, instance=line)

    def work() -> str:
        by, now = request.user, timezone.now()
        newer = template
        if form.moves_to is not None:
            newer = workflow.move_line(template=newer, key=key, below=form.moves_to, by=by, now=now)
        elif not form.changes:
            messages.success(request, "Nothing was changed.")
            return reverse("template-detail", args=[pk])
        if form.changes:
            newer = workflow.change_line(
                template=newer, key=key, changes=form.changes, by=by, now=now
            )
        return _kept(request, newer)

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    shown = {"checklist": template, "line": line, "stays": workflow.stays(template, line)}
    return form_page(request, "owner/template_line.html", form, nav="rules", **shown)


@allow("owner")
@FORM
def template_add(request: StaffRequest, pk: int) -> HttpResponse:
    """A question of the company's own."""
    template = get_object_or_404(ChecklistTemplate, pk=pk)
    form = OwnLineForm(request.POST or None, template=template)

    def work() -> str:
        newer = workflow.add_line(
            template=template,
            block=form.cleaned_data["block"],
            asked=form.asked(),
            by=request.user,
            now=timezone.now(),
        )
        return _kept(request, newer)

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return form_page(request, "owner/template_add.html", form, nav="rules", checklist=template)


def _act(
    request: StaffRequest, pk: int, work: Callable[[ChecklistTemplate], ChecklistTemplate]
) -> HttpResponse:
    """One press: a new version, or why not, on the page of the list."""
    template = get_object_or_404(ChecklistTemplate, pk=pk)
    try:
        return redirect(_kept(request, work(template)))
    except JobsError as refusal:
        messages.error(request, refusal.message)
        return redirect("template-detail", pk=pk)


@allow("owner")
@require_POST
def template_out(request: StaffRequest, pk: int, key: str) -> HttpResponse:
    by, now = request.user, timezone.now()
    return _act(request, pk, lambda row: workflow.take_out(template=row, key=key, by=by, now=now))


@allow("owner")
@require_POST
def template_shipped(request: StaffRequest, pk: int, key: str) -> HttpResponse:
    """Asked again as it is shipped."""
    by, now = request.user, timezone.now()
    return _act(request, pk, lambda row: workflow.as_shipped(template=row, key=key, by=by, now=now))
