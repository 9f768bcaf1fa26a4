"""What a visit waits for, and the days on which the laboratory takes no samples."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from jobs.access import allow
from jobs.forms.waits import LaboratoryDayForm, WaitForm, WaitNoMoreForm
from jobs.http import StaffRequest
from jobs.models import Company, LaboratoryDay
from jobs.models.company import company_day
from jobs.pages.visit import waits_of
from jobs.schedule.laboratory import Laboratory
from jobs.workflows import waits

from .sending import form_page, send_once
from .visits import visit_or_404

FORM = require_http_methods(["GET", "HEAD", "POST"])


@allow("dispatcher")
@FORM
def visit_wait(request: StaffRequest, pk: int) -> HttpResponse:
    """A visit that is only held waits for something, or for something else than before."""
    visit = visit_or_404(request, pk)
    form = WaitForm(request.POST or None, visit=visit)

    def work() -> str:
        what = form.waits() or waits.WaitsFor()
        waits.wait_for(visit=visit, what=what, by=request.user, now=timezone.now())
        messages.success(request, "Kept. The time is only held until this has come.")
        return reverse("visit-detail", args=[pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    about = {"visit": visit, "nav": "day", **waits_of(visit, timezone.now())}
    return form_page(request, "visits/wait.html", form, **about)


@allow("dispatcher")
@FORM
def visit_wait_no_more(request: StaffRequest, pk: int) -> HttpResponse:
    visit = visit_or_404(request, pk)
    form = WaitNoMoreForm(request.POST or None)

    def work() -> str:
        reason, now = form.cleaned_data["reason"], timezone.now()
        waits.wait_no_more(visit=visit, reason=reason, by=request.user, now=now)
        messages.success(request, "It waits no more. It is still only held: confirm it, or not.")
        return reverse("visit-detail", args=[pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    about = {"visit": visit, "nav": "day", **waits_of(visit, timezone.now())}
    return form_page(request, "visits/wait_no_more.html", form, **about)


@allow("owner")
@FORM
def laboratory_days(request: StaffRequest) -> HttpResponse:
    form = LaboratoryDayForm(request.POST or None)

    def work() -> str:
        waits.keep_laboratory_day(**form.cleaned_data, by=request.user, now=timezone.now())
        messages.success(request, "Kept. Visits that stand on that day stay where they are.")
        return reverse("laboratory-days")

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    today = company_day(timezone.now())
    about = {
        "days": LaboratoryDay.objects.filter(day__gte=today),
        "laboratory": Laboratory(Company.load()),
    }
    return form_page(request, "time/laboratory.html", form, **about)


@allow("owner")
@require_POST
def laboratory_day_drop(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(LaboratoryDay, pk=pk)
    waits.drop_laboratory_day(row=row, by=request.user, now=timezone.now())
    messages.success(request, "The laboratory takes samples again on that day.")
    return redirect("laboratory-days")
