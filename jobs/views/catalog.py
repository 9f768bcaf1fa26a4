"""The six catalog tables: list, add, edit, put out of use."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from jobs.access import allow
from jobs.forms.catalog import NAMES, TABLES, TITLES, catalog_form
from jobs.http import StaffRequest
from jobs.reports.edit_history import changes_of
from jobs.workflows.owner_edits import save_owned

from .owner_pages import opened_version, owned_page
from .sending import send_once

FORM = require_http_methods(["GET", "HEAD", "POST"])


@allow("owner")
@require_safe
def catalog(request: StaffRequest) -> HttpResponse:
    tables = [
        (table, TITLES[table], NAMES[table], model._default_manager.order_by("-is_active", "name"))
        for table, model in TABLES.items()
    ]
    return render(request, "owner/catalog.html", {"tables": tables})


@allow("owner")
@FORM
def catalog_new(request: StaffRequest, table: str) -> HttpResponse:
    return _page(request, table, None)


@allow("owner")
@FORM
def catalog_edit(request: StaffRequest, table: str, pk: int) -> HttpResponse:
    return _page(request, table, pk)


def _page(request: StaffRequest, table: str, pk: int | None) -> HttpResponse:
    if table not in TABLES:
        raise Http404
    row = get_object_or_404(TABLES[table], pk=pk) if pk else TABLES[table]()
    form = catalog_form(table)(request.POST or None, instance=row)

    def work() -> str:
        save_owned(
            row=form.save(commit=False),
            seen=opened_version(request),
            by=request.user,
            now=timezone.now(),
        )
        messages.success(request, f"{form.instance.name} is kept.")
        return f"{reverse('catalog')}#{table}"

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    shown = {"nav": "catalog", "row": row, "table": table, "name": NAMES[table]}
    changes = changes_of(row) if pk else []
    return owned_page(
        request, "owner/catalog_edit.html", form, changes=changes, stands=pk is not None, **shown
    )
