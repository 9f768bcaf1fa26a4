"""Papers to leave at a house, made when they are asked for: notice, safety sheet, tank label."""

from __future__ import annotations

from pathlib import Path

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_safe

from equipment.models import Sample, Stage
from jobs.access import allow, sites_for
from jobs.http import StaffRequest
from jobs.models.company import company_day
from jobs.records import sheets
from jobs.records.paper import paper_of
from jobs.workflows.documents import ANSWERS, SHEET, typeset

from .records import read_or_404
from .sites import site_or_404


def _pdf(paper: dict[str, object], name: str, template: Path = SHEET) -> HttpResponse:
    content = typeset(paper, at=timezone.now(), template=template)
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
def answers_sheet(request: StaffRequest, pk: int) -> HttpResponse:
    """All answers and worked-out figures of a record, as they are now."""
    record, sheet = read_or_404(request, pk)
    visit = record.closed_in or record.job.visits.order_by("starts_at").last()
    paper = paper_of(record, sheet, visit=visit)
    return _pdf(paper, f"answers-{pk}", template=ANSWERS)


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


@allow()
@require_safe
def sample_slip(request: StaffRequest, pk: int) -> HttpResponse:
    sites = sites_for(request.user, today=company_day(timezone.now()))
    rows = Sample.objects.filter(site__in=sites).select_related("site", "taken_by", "place_stage")
    sample: Sample = get_object_or_404(rows, pk=pk)
    return _pdf(sheets.sample_slip(sample, now=timezone.now()), f"sample-{pk}")
