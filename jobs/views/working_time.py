"""The time of people: who works when, who is away, holidays, and what work asks for."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.contrib.auth.models import User
from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.access import allow
from jobs.forms.working_time import AwayForm, CompanyDayForm, NeedsForm, WeekForm
from jobs.http import StaffRequest, read_day
from jobs.models import Absence, Company, CompanyDay
from jobs.models.company import company_day
from jobs.pages import working_time as page
from jobs.workflows import absences, working_time

from .giving import absence_or_404
from .sending import form_page, send_once

FORM = require_http_methods(["GET", "HEAD", "POST"])


@allow("dispatcher")
@require_safe
def people_time(request: StaffRequest) -> HttpResponse:
    return render(request, "time/people.html", page.people_of(timezone.now()) | {"nav": "day"})


def _person_or_404(pk: int) -> User:
    row: User = get_object_or_404(User, pk=pk, is_active=True, groups__name="technician")
    return row


def _answer(
    request: StaffRequest, form: BaseForm, work: Callable[[], str], template: str, **about: object
) -> HttpResponse:
    """Send a valid form once, else show it."""
    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return form_page(request, template, form, nav="day", **about)


@allow("dispatcher")
@FORM
def person_hours(request: StaffRequest, pk: int) -> HttpResponse:
    person = _person_or_404(pk)
    kept = working_time.week_of(person)
    form = WeekForm(request.POST or None, week=kept)

    def work() -> str:
        seen, now = request.POST.get("seen", ""), timezone.now()
        working_time.keep_week(person=person, week=form.week(), seen=seen, by=request.user, now=now)
        messages.success(request, "The hours are kept and hold for what is booked from now on.")
        return reverse("people-time")

    about = {"person": person, "seen": kept.stamp, "company": Company.load()}
    return _answer(request, form, work, "time/hours.html", **about)


@allow("dispatcher")
@FORM
def absence_new(request: StaffRequest, pk: int) -> HttpResponse:
    """?kind=ill&on=2026-06-24 are chosen already."""
    person, asked = _person_or_404(pk), read_day(request.GET.get("on"))
    days = {"from_on": asked, "until_on": asked} if asked else {}
    initial = {"kind": request.GET.get("kind", ""), **days}
    form = AwayForm(request.POST or None, initial=initial)

    def work() -> str:
        row = absences.enter_absence(
            person=person, away=form.away(), by=request.user, now=timezone.now()
        )
        return _entered(request, row)

    return _answer(request, form, work, "time/away.html", person=person)


def _entered(request: StaffRequest, absence: Absence) -> str:
    """Where visits stand in it, the page on which others take them; else who works when."""
    if absence.visits().exists():
        return reverse("absence", args=[absence.pk])
    messages.success(request, "Kept. No visit stands in this time, and nobody is written to.")
    return reverse("people-time")


@allow("dispatcher")
@FORM
def absence_change(request: StaffRequest, pk: int) -> HttpResponse:
    row = absence_or_404(pk)
    form = AwayForm(request.POST or None, absence=row)

    def work() -> str:
        changed = absences.change_absence(
            absence=row, away=form.away(), by=request.user, now=timezone.now()
        )
        return _entered(request, changed)

    return _answer(request, form, work, "time/away.html", person=row.person, absence=row)


@allow("owner")
@FORM
def company_days(request: StaffRequest) -> HttpResponse:
    form = CompanyDayForm(request.POST or None)

    def work() -> str:
        working_time.keep_day(**form.cleaned_data, by=request.user, now=timezone.now())
        messages.success(request, "Kept. Visits that stand on that day stay where they are.")
        return reverse("company-days")

    days = page.days_of(company_day(timezone.now()))
    return _answer(request, form, work, "time/days.html", **days)


@allow("owner")
@require_POST
def company_day_drop(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(CompanyDay, pk=pk)
    working_time.drop_day(row=row, by=request.user, now=timezone.now())
    messages.success(request, "The calendar holds again for that day.")
    return redirect("company-days")


@allow("owner")
@FORM
def work_needs(request: StaffRequest) -> HttpResponse:
    kept = page.needs_kept()
    form = NeedsForm(request.POST or None, licences=page.licences_on_file(), kept=kept)

    def work() -> str:
        working_time.keep_needs(wanted=form.wanted(), by=request.user, now=timezone.now())
        messages.success(request, "Kept. It is asked for from the next booking on.")
        return reverse("work-needs")

    return _answer(request, form, work, "time/needs.html")
