"""Which houses have a part, a lot or a serial number."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpResponse, HttpResponseBadRequest
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.access import allow
from jobs.forms.parts import PartsForm
from jobs.http import StaffRequest
from jobs.models.company import company_day
from jobs.reports import parts as report
from jobs.reports.tables import CONTENT_TYPES, as_csv, as_xlsx

ROWS = 50


@allow("dispatcher")
@require_safe
def parts(request: StaffRequest) -> HttpResponse:
    form = PartsForm(request.GET or None)
    context: dict[str, object] = {"nav": "search", "form": form}
    if form.is_bound and not form.is_valid():
        return render(request, "reports/parts.html", context, status=422)
    if form.is_bound and not (sought := form.sought()).is_empty:
        pages = Paginator(report.found(sought), ROWS)
        pages.count, houses = report.counted(sought)
        page = pages.get_page(request.GET.get("page"))
        lines = report.lines(page.object_list)
        asked = request.GET.copy()
        asked.pop("page", None)
        context |= {
            "page_obj": page,
            "lines": lines,
            "houses": houses,
            "recall": asked.urlencode(),
            "files": f"{reverse('part-file')}?{asked.urlencode()}",
        }
    return render(request, "reports/parts.html", context)


@allow("dispatcher")
@require_safe
def parts_file(request: StaffRequest) -> HttpResponse:
    """The same lines, all of them."""
    form, kind = PartsForm(request.GET or None), request.GET.get("as", "csv")
    if not form.is_valid() or kind not in CONTENT_TYPES or form.sought().is_empty:
        return HttpResponseBadRequest("This address names no part, lot or serial number.")
    tables = report.tables(form.sought())
    name = f"parts-{company_day(timezone.now()).isoformat()}.{kind}"
    return HttpResponse(
        as_csv(tables[0]) if kind == "csv" else as_xlsx(tables),
        content_type=CONTENT_TYPES[kind],
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
