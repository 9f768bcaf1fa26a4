"""The page of one job: visits, records, letters, what is charged, and what decides about it."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from jobs.access import allow, has_role
from jobs.http import StaffRequest
from jobs.models import ChecklistRecord, Job, OutboxMail, Visit
from jobs.pages.job_facts import context_of


@allow("dispatcher")
@require_safe
def job_detail(request: StaffRequest, pk: int) -> HttpResponse:
    rows = Job.objects.select_related("site", "customer", "opened_by")
    job = get_object_or_404(rows, pk=pk)
    is_owner = has_role(request.user, "owner")
    visits = Visit.objects.filter(job=job).select_related("lead", "helper")
    letters = OutboxMail.objects.filter(visit__job=job).select_related("customer")
    records = ChecklistRecord.objects.filter(job=job).select_related("template")
    context = {
        "nav": "callbacks" if is_owner else "search",
        "job": job,
        "is_owner": is_owner,
        "visits": visits.order_by("-starts_at"),
        "records": records.order_by("-opened_at"),
        "letters": letters.defer("rendered").order_by("-created_at"),
    }
    return render(request, "jobs/job.html", context | (context_of(job) if is_owner else {}))
