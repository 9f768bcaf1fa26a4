from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from equipment.engineering.errors import EngineeringError
from equipment.engineering.registry import calculation, load
from jobs.access import allow, has_role, units_of
from jobs.http import StaffRequest
from jobs.pages.worksheets import glass_of, groups, open_worksheet

STATISTICS = {"callback-rate", "observed-expected", "funnel-limits", "survival"}


@allow()
@require_safe
def index(request: StaffRequest) -> HttpResponse:
    return render(request, "worksheets/index.html", {"groups": groups(_names(request))})


@allow()
@require_safe
def detail(request: StaffRequest, name: str) -> HttpResponse:
    """Form and answer; everything typed stands in the address, so it can be kept and printed."""
    if name not in _names(request):
        raise Http404
    try:
        entry = calculation(name)
    except EngineeringError:
        raise Http404 from None
    sheet = open_worksheet(entry, request.GET, units_of(request.user))
    context = {"sheet": sheet, "glass": glass_of(sheet), "nav": "worksheets"}
    template = "worksheets/_live.html" if request.htmx else "worksheets/detail.html"
    return render(request, template, context)


def _names(request: StaffRequest) -> set[str]:
    """Rates of installers are the owner's business, and so is their arithmetic."""
    names = set(load())
    return names if has_role(request.user, "owner") else names - STATISTICS
