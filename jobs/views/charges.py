"""What is charged for a job; what is done and not billed; what was not charged, by cause."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse, HttpResponseBadRequest
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from jobs.access import allow
from jobs.forms.charges import ChargeForm, ChargesForm
from jobs.http import StaffRequest
from jobs.models import Job
from jobs.models.company import company_day
from jobs.reports import charges as report
from jobs.reports.tables import CONTENT_TYPES, as_csv, as_xlsx
from jobs.workflows import charges as workflow

from .sending import form_page, send_once

ROWS = 50


@allow("dispatcher")
@require_http_methods(["GET", "HEAD", "POST"])
def job_charge(request: StaffRequest, pk: int) -> HttpResponse:
    job = get_object_or_404(Job.objects.select_related("site", "customer"), pk=pk)
    form = ChargeForm(request.POST if request.method == "POST" else None, job=job)

    def work() -> str:
        now = timezone.now()
        workflow.charge_job(
            job=job, charge=form.charge(), seen=form.seen(), by=request.user, now=now
        )
        messages.success(request, "Kept what is charged.")
        return reverse("job-detail", args=[job.pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return form_page(request, "jobs/charge.html", form, job=job, nav="charges")


@allow("dispatcher")
@require_safe
def charges(request: StaffRequest) -> HttpResponse:
    now = timezone.now()
    form = ChargesForm(request.GET, today=company_day(now))
    rows = report.unbilled_rows()
    cents, unpriced = report.total_cents(rows)
    page = Paginator(rows, ROWS).get_page(request.GET.get("page"))
    context: dict[str, object] = {
        "nav": "charges",
        "form": form,
        "page_obj": page,
        "lines": report.unbilled(page, now=now),
        "cents": cents,
        "unpriced": unpriced,
        "late_after": report.LATE_AFTER_DAYS,
    }
    if not form.is_valid():
        return render(request, "reports/charges.html", context, status=422)
    days = form.cleaned_data
    words = {name: day.isoformat() for name, day in days.items()}
    context["not_charged"] = report.not_charged(days["since"], days["until"])
    context["files"] = f"{reverse('charges-file')}?{urlencode(words)}"
    return render(request, "reports/charges.html", context)


@allow("dispatcher")
@require_safe
def charges_file(request: StaffRequest) -> HttpResponse:
    """CSV: what is not billed. XLSX: also what was not charged, by cause."""
    now = timezone.now()
    form, kind = ChargesForm(request.GET, today=company_day(now)), request.GET.get("as", "csv")
    if not form.is_valid() or kind not in CONTENT_TYPES:
        return HttpResponseBadRequest("This address names no file of charges.")
    tables = report.tables(form.cleaned_data["since"], form.cleaned_data["until"], now=now)
    name = f"not-billed-{company_day(now).isoformat()}.{kind}"
    return HttpResponse(
        as_csv(tables[0]) if kind == "csv" else as_xlsx(tables),
        content_type=CONTENT_TYPES[kind],
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
