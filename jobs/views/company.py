"""The company's own values."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from jobs.access import allow
from jobs.forms.company import CompanyForm
from jobs.http import StaffRequest
from jobs.models import Company
from jobs.reports.edit_history import changes_of
from jobs.workflows.owner_edits import save_owned

from .owner_pages import opened_version, owned_page
from .sending import send_once

FORM = require_http_methods(["GET", "HEAD", "POST"])


@allow("owner")
@FORM
def company(request: StaffRequest) -> HttpResponse:
    row = Company.load()
    form = CompanyForm(request.POST or None, instance=row)

    def work() -> str:
        save_owned(
            row=form.save(commit=False),
            seen=opened_version(request),
            by=request.user,
            now=timezone.now(),
        )
        messages.success(request, "The values are kept and hold from now on.")
        return reverse("company")

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return owned_page(request, "owner/company.html", form, changes=changes_of(row))
