"""Figures recorded by hand, and their corrections."""

from __future__ import annotations

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone

from equipment.models import Measurement, Site, Stage
from equipment.on_file import tap_of
from equipment.quantities import BEHIND, PlaceName
from jobs.access import allow
from jobs.forms.measurements import MeasurementForm
from jobs.http import StaffRequest, row_named
from jobs.workflows.measurements import record_measurement

from .sending import send_once
from .sites import house_page, site_or_404


@allow()
def measurement_new(request: StaffRequest, pk: int) -> HttpResponse:
    """A new figure; with ?corrects= a newer row that names the one it corrects."""
    site = site_or_404(request, pk)
    wrong = row_named(Measurement.objects.of_house(site).standing(), request.GET.get("corrects"))
    form = MeasurementForm(
        request.POST or None, site=site, corrects=wrong, initial=_initial(request, site, wrong)
    )

    def work() -> str:
        record_measurement(
            about=form.subject(),
            reading=form.reading(),
            measured_at=form.cleaned_data["measured_at"],
            corrects=wrong,
            by=request.user,
            now=timezone.now(),
        )
        return reverse("site-detail", args=[pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    title = f"Correct: {wrong}" if wrong else "Record a figure"
    return house_page(request, form, site, title, button="Keep the figure")


def _initial(request: StaffRequest, site: Site, wrong: Measurement | None) -> dict[str, object]:
    if wrong is None:
        return {"quantity_key": request.GET.get("key", ""), "place": PlaceName.RAW}
    about = "site"
    place, behind = wrong.place, wrong.place_stage_id
    if place in BEHIND:
        place, behind = tap_of(wrong, Stage.objects.fitted().filter(train__site=site))
    if wrong.well_id or wrong.stage_id:
        about = f"well-{wrong.well_id}" if wrong.well_id else f"stage-{wrong.stage_id}"
    return {
        "about": about,
        "quantity_key": wrong.quantity_key,
        "unit": wrong.entered_unit,
        "place": place,
        "place_stage": behind,
        "origin": wrong.origin,
        "method": wrong.method,
        "measured_at": timezone.localtime(wrong.measured_at),
    }
