"""The day and the week, and the sheets to print."""

from __future__ import annotations

from datetime import date

from django.contrib.auth.models import User
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from jobs.access import allow
from jobs.http import StaffRequest, read_day, read_moment, row_named
from jobs.models.company import company_day
from jobs.pages.day import day_of
from jobs.pages.free_stretch import stretch_of
from jobs.pages.schedule import sheets_of
from jobs.pages.week import week_of


def asked_day(request: StaffRequest) -> date:
    """?on=2026-06-24, else today."""
    return read_day(request.GET.get("on")) or company_day(timezone.now())


@allow("dispatcher")
def day(request: StaffRequest) -> HttpResponse:
    return render(request, "visits/day.html", day_of(asked_day(request), timezone.now()))


@allow("dispatcher")
def week(request: StaffRequest) -> HttpResponse:
    return render(request, "visits/week.html", week_of(asked_day(request), timezone.now()))


@allow("dispatcher")
def free_stretch(request: StaffRequest) -> HttpResponse:
    """?person=3&from=2026-06-24T09:00: a free stretch of the week, and who fits into it."""
    who = row_named(User.objects.filter(groups__name="technician"), request.GET.get("person"))
    at = read_moment(request.GET.get("from"))
    if who is None or at is None:
        raise Http404
    return render(request, "visits/free_stretch.html", stretch_of(who, at, timezone.now()))


@allow("dispatcher")
def day_sheet(request: StaffRequest) -> HttpResponse:
    """One sheet for each person, to print; ?person= narrows it to one."""
    context = sheets_of(asked_day(request), request.GET.get("person", ""))
    return render(request, "visits/day_sheet.html", context)
