"""The day and the week, and the sheets to print."""

from __future__ import annotations

from datetime import date

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from jobs.access import allow
from jobs.http import StaffRequest, read_day
from jobs.models.company import company_day
from jobs.pages.schedule import day_of, sheets_of, week_of


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
def day_sheet(request: StaffRequest) -> HttpResponse:
    """One sheet for each person, to print; ?person= narrows it to one."""
    context = sheets_of(asked_day(request), request.GET.get("person", ""))
    return render(request, "visits/day_sheet.html", context)
