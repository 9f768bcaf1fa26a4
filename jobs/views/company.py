"""The company's own values, and the checklists."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from jobs.access import allow
from jobs.forms.checklists import LineForm
from jobs.forms.company import CompanyForm
from jobs.http import StaffRequest
from jobs.models import ChecklistLine, ChecklistTemplate, Company
from jobs.reports.edit_history import changes_of
from jobs.workflows.checklist_templates import change_line
from jobs.workflows.owner_edits import save_owned

from .owner_pages import opened_version, owned_page
from .sending import form_page, send_once

FORM = require_http_methods(["GET", "HEAD", "POST"])


@allow("owner")
@FORM
def company(request: StaffRequest) -> HttpResponse:
    row = Company.load()
    form = CompanyForm(request.POST or None, instance=row)

    def work() -> str:
        save_owned(
            row=form.save(commit=False),
            seen=opened_version(request),
            by=request.user,
            now=timezone.now(),
        )
        messages.success(request, "The values are kept and hold from now on.")
        return reverse("company")

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return owned_page(request, "owner/company.html", form, changes=changes_of(row))


@allow("owner")
@require_safe
def templates(request: StaffRequest) -> HttpResponse:
    rows = ChecklistTemplate.objects.annotate(line_count=Count("lines"))
    return render(request, "owner/templates.html", {"nav": "rules", "templates": rows})


@allow("owner")
@require_safe
def template_detail(request: StaffRequest, pk: int) -> HttpResponse:
    template = get_object_or_404(ChecklistTemplate, pk=pk)
    blocks: dict[str, list[ChecklistLine]] = {}
    for line in template.lines.order_by("position"):
        blocks.setdefault(line.block_title, []).append(line)
    context = {"nav": "rules", "template": template, "blocks": list(blocks.items())}
    return render(request, "owner/template_detail.html", context)


@allow("owner")
@FORM
def template_line(request: StaffRequest, pk: int, key: str) -> HttpResponse:
    template = get_object_or_404(ChecklistTemplate, pk=pk)
    line = get_object_or_404(ChecklistLine, template=template, key=key)
    form = LineForm(request.POST or None, instance=line)

    def work() -> str:
        newer = change_line(
            template=template,
            key=key,
            changes=form.cleaned_data,
            by=request.user,
            now=timezone.now(),
        )
        messages.success(request, f"Kept as version {newer.version}. Records begun keep theirs.")
        return reverse("template-detail", args=[newer.pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return form_page(
        request, "owner/template_line.html", form, nav="rules", checklist=template, line=line
    )
