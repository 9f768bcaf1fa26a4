"""Papers to leave at a house, made when they are asked for: notice, safety sheet, tank label."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_safe

from equipment.models import Stage
from jobs.access import allow, sites_for
from jobs.http import StaffRequest
from jobs.models.company import company_day
from jobs.records import sheets
from jobs.workflows.documents import SHEET, typeset

from .sites import site_or_404


def _pdf(paper: dict[str, object], name: str) -> HttpResponse:
    content = typeset(paper, at=timezone.now(), template=SHEET)
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response


def feeder_or_404(request: StaffRequest, pk: int) -> Stage:
    """A dosing pump with its product, at a house this person may read."""
    sites = sites_for(request.user, today=company_day(timezone.now()))
    rows = Stage.objects.fitted().with_catalog().select_related("train__site")
    fed_with = rows.filter(kind=Stage.Kind.FEEDER, product__isnull=False, train__site__in=sites)
    stage: Stage = get_object_or_404(fed_with, pk=pk)
    return stage


@allow()
@require_safe
def notice_sheet(request: StaffRequest, pk: int) -> HttpResponse:
    site = site_or_404(request, pk)
    return _pdf(sheets.notice_sheet(site, now=timezone.now()), f"notice-{pk}")


@allow()
@require_safe
def safety_sheet(request: StaffRequest, pk: int) -> HttpResponse:
    stage = feeder_or_404(request, pk)
    return _pdf(sheets.safety_sheet(stage, now=timezone.now()), f"safety-{pk}")


@allow()
@require_safe
def tank_label(request: StaffRequest, pk: int) -> HttpResponse:
    stage = feeder_or_404(request, pk)
    return _pdf(sheets.tank_label(stage, now=timezone.now()), f"label-{pk}")
