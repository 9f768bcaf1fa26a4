"""Chemicals put in by house and by person, the fills behind each number, and both as files."""

from __future__ import annotations

from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import HttpResponse, HttpResponseBadRequest
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.access import allow
from jobs.forms.chemicals import ChemicalsForm, FillsForm
from jobs.http import StaffRequest
from jobs.models.company import company_day
from jobs.reports import chemical_files, chemicals
from jobs.reports.tables import CONTENT_TYPES

ROWS = 50
HOUSES, FILLS = "houses", "fills"


@allow("owner")
@require_safe
def chemicals_used(request: StaffRequest) -> HttpResponse:
    today = company_day(timezone.now())
    form = ChemicalsForm(request.GET, today=today)
    context: dict[str, object] = {"nav": "callbacks", "form": form}
    if not form.is_valid():
        return render(request, "reports/chemicals.html", context, status=422)
    found, words = chemicals.report(form.asked), urlencode(form.words())
    page = Paginator(found.houses, ROWS).get_page(request.GET.get("page"))
    context |= {
        "report": found,
        "asked": form.asked,
        "page_obj": page,
        "rules": chemical_files.rules(form.asked),
        "no_verdict": chemical_files.NOT_OF_A_PERSON,
        "years": chemicals.years(today),
        "few_fills": chemicals.FEWEST_FILLS,
        "few_days": chemicals.FEWEST_DAYS,
        "fills": f"{reverse('chemicals-fills')}?{words}",
        "files": f"{reverse('chemicals-file')}?{words}",
    }
    return render(request, "reports/chemicals.html", context)


@allow("owner")
@require_safe
def chemicals_fills(request: StaffRequest) -> HttpResponse:
    today = company_day(timezone.now())
    form = FillsForm(request.GET, today=today)
    context: dict[str, object] = {"nav": "callbacks", "form": form}
    if not form.is_valid():
        return render(request, "reports/chemicals_fills.html", context, status=422)
    lines, words = chemicals.lines_of(form.asked), form.words()
    page = Paginator(lines, ROWS).get_page(request.GET.get("page"))
    days = urlencode({name: words[name] for name in ("since", "until")})
    everywhere = {name: value for name, value in words.items() if name not in ("house", "tank")}
    context |= {
        "asked": form.asked,
        "lines": page.object_list,
        "page_obj": page,
        "summed": chemicals.counted(lines),
        "house": chemicals.house_of(form.asked),
        "back": f"{reverse('chemicals')}?{days}",
        "everywhere": f"?{urlencode(everywhere)}",
        "files": f"{reverse('chemicals-file')}?{urlencode({**words, 'of': FILLS})}",
    }
    return render(request, "reports/chemicals_fills.html", context)


@allow("owner")
@require_safe
def chemicals_file(request: StaffRequest) -> HttpResponse:
    form = FillsForm(request.GET, today=company_day(timezone.now()))
    kind, of = request.GET.get("as", "csv"), request.GET.get("of", HOUSES)
    if not form.is_valid() or kind not in CONTENT_TYPES or of not in (HOUSES, FILLS):
        return HttpResponseBadRequest("This address names no file of chemicals.")
    asked = form.asked
    lines = chemicals.lines_of(asked)
    tables = (
        chemical_files.of_fills(lines, asked)
        if of == FILLS
        else chemical_files.of_houses(chemicals.counted(lines), asked)
    )
    name = f"chemicals-{of}-{asked.since.isoformat()}-{asked.until.isoformat()}.{kind}"
    return HttpResponse(
        chemical_files.written(tables, kind),
        content_type=CONTENT_TYPES[kind],
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
