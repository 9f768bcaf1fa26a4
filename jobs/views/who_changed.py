"""Who changed what: one page over both histories, and the same as a file."""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import HttpResponse, HttpResponseBadRequest
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from equipment.models import Site
from jobs.access import allow
from jobs.forms.who_changed import WhoChangedForm
from jobs.http import StaffRequest
from jobs.models.company import company_day
from jobs.reports import who_changed_files
from jobs.reports.tables import CONTENT_TYPES
from jobs.reports.who_changed import ROWS, lines

#: pages that can be leafed through; beyond them the days are narrowed
MOST_PAGES = 200


@allow("owner")
@require_safe
def who_changed(request: StaffRequest) -> HttpResponse:
    form = WhoChangedForm(request.GET, today=company_day(timezone.now()))
    context: dict[str, object] = {"form": form, "nav": "people"}
    if not form.is_valid():
        return render(request, "reports/who_changed.html", context, status=422)
    words, asked = form.words(), form.asked
    number = _page_number(request.GET.get("page", ""))
    found, has_more = lines(asked, first=(number - 1) * ROWS)
    address = f"{reverse('who-changed')}?{urlencode(words)}"
    context |= {
        "lines": found,
        "house": Site.objects.filter(pk=asked.house).first() if asked.house else None,
        "everywhere": f"?{urlencode({**words, 'house': ''})}",
        "files": f"{reverse('who-changed-file')}?{urlencode(words)}",
        "newer": f"{address}&page={number - 1}" if number > 1 else "",
        "older": f"{address}&page={number + 1}" if has_more and number < MOST_PAGES else "",
        "is_cut": has_more and number == MOST_PAGES,
    }
    return render(request, "reports/who_changed.html", context)


@allow("owner")
@require_safe
def who_changed_file(request: StaffRequest) -> HttpResponse:
    form = WhoChangedForm(request.GET, today=company_day(timezone.now()))
    kind = request.GET.get("as", "csv")
    if not form.is_valid() or kind not in CONTENT_TYPES:
        return HttpResponseBadRequest("This address names no file of changes.")
    by = dict(form.fields["person"].choices)[form.asked.person]  # type: ignore[attr-defined]
    name = f"changes-{form.asked.since.isoformat()}-{form.asked.until.isoformat()}.{kind}"
    return HttpResponse(
        who_changed_files.written(form.asked, kind, person=by),
        content_type=CONTENT_TYPES[kind],
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def _page_number(text: str) -> int:
    is_number = text.isascii() and text.isdigit() and len(text) < 5
    return min(max(int(text), 1), MOST_PAGES) if is_number else 1
