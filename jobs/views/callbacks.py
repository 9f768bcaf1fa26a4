"""The owner's callback report, the jobs behind its numbers, and both as files."""

from __future__ import annotations

from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import HttpResponse, HttpResponseBadRequest
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.access import allow
from jobs.forms.reports import JobsForm, ReportForm
from jobs.http import StaffRequest
from jobs.models.company import company_day
from jobs.pages.fair_answer import fair_page, file_sentence
from jobs.pages.over_time import over_time
from jobs.reports import callback_files, callback_jobs, job_list
from jobs.reports.callbacks import GROUPS, callback_report, cause_label
from jobs.reports.tables import CONTENT_TYPES
from jobs.reports.water_classes import WATERS
from jobs.workflows.fact_nights import warning

ROWS = 50


@allow("owner")
@require_safe
def callbacks(request: StaffRequest) -> HttpResponse:
    form = ReportForm(request.GET, today=company_day(timezone.now()))
    context: dict[str, object] = {"form": form, "windows": callback_jobs.WINDOWS}
    if not form.is_valid():
        return render(request, "reports/callbacks.html", context, status=422)
    report = callback_report(form.selection)
    words = form.words()
    context |= {
        "report": report,
        "warning": warning(),
        "address": f"{reverse('callbacks-jobs')}?{urlencode(words)}",
        "files": f"{reverse('callbacks-export')}?{urlencode(words)}",
        "groups": GROUPS,
        "fair": fair_page(report, verdict_on=form.verdict_on if form.is_verdict else None),
        "over": over_time(report),
        "kinds": callback_jobs.KINDS,
        "waters": WATERS,
    }
    return render(request, "reports/callbacks.html", context)


@allow("owner")
@require_safe
def callbacks_jobs(request: StaffRequest) -> HttpResponse:
    form = JobsForm(request.GET, today=company_day(timezone.now()))
    context: dict[str, object] = {"nav": "callbacks", "form": form}
    if not form.is_valid():
        return render(request, "reports/callbacks_jobs.html", context, status=422)
    asked, words = form.asked(), form.words()
    rows = job_list.rows_for(form.selection, asked)
    page = Paginator(rows, ROWS).get_page(request.GET.get("page"))
    context |= {
        "selection": form.selection,
        "page_obj": page,
        "lines": job_list.lines(page),
        "title": job_list.WHAT[asked.get("what", "jobs")][0],
        "narrowed": _narrowed(asked),
        "installer": form.installer_name,
        "back": f"{reverse('callbacks')}?{urlencode(words)}",
        "files": f"{reverse('callbacks-export')}?{urlencode({**words, **asked, 'of': 'jobs'})}",
    }
    return render(request, "reports/callbacks_jobs.html", context)


def _narrowed(asked: job_list.Narrowed) -> list[str]:
    """What else the list was narrowed to, in words."""
    said = []
    if "kind" in asked:
        said.append(callback_jobs.KINDS[asked["kind"]])
    if "water" in asked:
        said.append(WATERS[asked["water"]])
    if "group" in asked:
        said.append(f"cause: {GROUPS[asked['group']].name}")
    if "cause" in asked:
        said.append(f"cause: {cause_label(asked['cause'])}")
    return said


@allow("owner")
@require_safe
def callbacks_export(request: StaffRequest) -> HttpResponse:
    """CSV or XLSX of the people or of a list of jobs."""
    form = JobsForm(request.GET, today=company_day(timezone.now()))
    kind = request.GET.get("as", "csv")
    if not form.is_valid() or kind not in CONTENT_TYPES:
        return HttpResponseBadRequest("This address names no file of the report.")
    selection, of_jobs = form.selection, request.GET.get("of") == "jobs"
    report, asked = callback_report(selection), form.asked()
    narrowed = _narrowed(asked) if of_jobs else []
    above = file_sentence(report, form.verdict_on if form.is_verdict else None, narrowed)
    if of_jobs:
        tables = callback_files.of_jobs(selection, asked, above)
    else:
        tables = callback_files.of_people(report, above)
    name = f"callbacks-{'jobs' if of_jobs else 'people'}-{selection.until.isoformat()}.{kind}"
    return HttpResponse(
        callback_files.written(tables, kind),
        content_type=CONTENT_TYPES[kind],
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
