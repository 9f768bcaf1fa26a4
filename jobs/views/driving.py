"""The table of towns under Company."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from jobs.access import allow
from jobs.forms.driving import TownDriveForm
from jobs.http import StaffRequest
from jobs.models import TownDrive
from jobs.pages.driving import towns_of
from jobs.workflows import driving

from .sending import form_page, send_once


@allow("owner")
@require_http_methods(["GET", "HEAD", "POST"])
def town_drives(request: StaffRequest) -> HttpResponse:
    form = TownDriveForm(request.POST or None)

    def work() -> str:
        row = driving.keep_drive(**form.cleaned_data, by=request.user, now=timezone.now())
        messages.success(request, f"Kept: {row}, {row.minutes} min, in both directions.")
        return reverse("town-drives")

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return form_page(request, "time/driving.html", form, **towns_of())


@allow("owner")
@require_POST
def town_drive_drop(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(TownDrive, pk=pk)
    driving.drop_drive(row=row, by=request.user, now=timezone.now())
    messages.success(request, "What is usual holds again for these towns.")
    return redirect("town-drives")
