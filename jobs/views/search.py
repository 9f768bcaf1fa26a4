"""One box that finds a house by anything a caller may say."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from jobs.access import allow, has_role, sites_for
from jobs.http import StaffRequest
from jobs.models.company import company_day
from jobs.search.find import search as find


@allow()
def search(request: StaffRequest) -> HttpResponse:
    """With script the list follows the typing; without, the button asks.

    A technician finds the houses of own visits, and no customers besides.
    """
    today = company_day(timezone.now())
    typed = request.GET.get("q", "").strip()
    is_office = has_role(request.user, "dispatcher")
    hits = find(typed, sites_for(request.user, today=today), today=today, only_houses=not is_office)
    fragment = request.htmx and not request.htmx.boosted
    template = "sites/_hits.html" if fragment else "sites/search.html"
    return render(request, template, {"q": typed, "hits": hits, "is_office": is_office})
