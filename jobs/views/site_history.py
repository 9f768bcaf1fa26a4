"""A house over time: readings, settings, fills, promises and who lived there."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from jobs.access import allow, has_role, units_of
from jobs.http import StaffRequest
from jobs.models.company import company_day
from jobs.pages import site_history as history

from .sites import site_or_404


@allow()
def site_history(request: StaffRequest, pk: int) -> HttpResponse:
    site = site_or_404(request, pk)
    today = company_day(timezone.now())
    context = history.context_of(site, today=today, system=units_of(request.user))
    context["is_office"] = has_role(request.user, "dispatcher")
    return render(request, "sites/history.html", {**context, "nav": "search"})
