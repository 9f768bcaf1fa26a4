"""Readings, samples and results."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from equipment.models import Measurement, Sample
from equipment.quantities import PlaceName
from jobs.access import allow
from jobs.forms.measurements import MeasurementForm, ResultForm, SampleForm, ToldForm
from jobs.http import StaffRequest, row_named
from jobs.models import SiteTenure
from jobs.models.company import company_day
from jobs.wording.calls import FOUND_BACTERIA
from jobs.workflows import samples as workflow
from jobs.workflows.measurements import record_measurement

from .sending import form_page, send_once
from .sites import house_page, site_or_404


@allow()
def measurement_new(request: StaffRequest, pk: int) -> HttpResponse:
    """A new figure; with ?corrects= a newer row that names the one it corrects."""
    site = site_or_404(request, pk)
    wrong = row_named(Measurement.objects.of_house(site).standing(), request.GET.get("corrects"))
    form = MeasurementForm(
        request.POST or None, site=site, corrects=wrong, initial=_initial(request, wrong)
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
    return house_page(request, form, site, title)


def _initial(request: StaffRequest, wrong: Measurement | None) -> dict[str, object]:
    if wrong is None:
        return {"quantity_key": request.GET.get("key", ""), "place": PlaceName.RAW}
    about = "site"
    if wrong.well_id or wrong.stage_id:
        about = f"well-{wrong.well_id}" if wrong.well_id else f"stage-{wrong.stage_id}"
    return {
        "about": about,
        "quantity_key": wrong.quantity_key,
        "unit": wrong.entered_unit,
        "place": wrong.place,
        "place_stage": wrong.place_stage_id,
        "origin": wrong.origin,
        "method": wrong.method,
        "measured_at": timezone.localtime(wrong.measured_at),
    }


@allow()
def sample_new(request: StaffRequest, pk: int) -> HttpResponse:
    site = site_or_404(request, pk)
    sample = Sample(site=site, taken_by=request.user)
    form = SampleForm(request.POST or None, instance=sample, site=site)

    def work() -> str:
        workflow.send_sample(sample=form.save(commit=False), by=request.user, now=timezone.now())
        return reverse("site-detail", args=[pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return house_page(request, form, site, "A sample is sent to the laboratory")


@allow("dispatcher")
def sample_result(request: StaffRequest, pk: int) -> HttpResponse:
    sample = get_object_or_404(Sample.objects.select_related("site"), pk=pk)
    form = ResultForm(request.POST or None, sample=sample)

    def work() -> str:
        data = form.cleaned_data
        workflow.enter_result(
            sample=sample,
            outcome=data["outcome"],
            result_on=data["result_on"],
            figures=form.figures,
            note=data["note"],
            by=request.user,
            now=timezone.now(),
        )
        if data["outcome"] == Sample.Outcome.POSITIVE:
            messages.warning(request, "“Do not drink” stands now. Call the household.")
            return reverse("sample-told", args=[sample.pk])
        return reverse("site-detail", args=[sample.site_id])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return house_page(request, form, sample.site, f"Result of the {sample}")


@allow("dispatcher")
def sample_told(request: StaffRequest, pk: int) -> HttpResponse:
    """Bacteria were found: whom to call, what to read out, and the name of who knows."""
    sample = get_object_or_404(Sample.objects.select_related("site"), pk=pk)
    form = ToldForm(request.POST or None)

    def work() -> str:
        workflow.tell_result(
            sample=sample, **form.cleaned_data, by=request.user, now=timezone.now()
        )
        return reverse("site-detail", args=[sample.site_id])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    today = company_day(timezone.now())
    holders = SiteTenure.objects.filter(site=sample.site).at(today).select_related("customer")
    context = {"sample": sample, "holders": holders, "lines": FOUND_BACTERIA}
    return form_page(request, "sites/sample_told.html", form, nav="search", **context)
