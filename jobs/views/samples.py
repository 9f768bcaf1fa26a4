"""Samples sent, their results, and the calls that follow."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from equipment.models import Sample
from jobs.access import allow
from jobs.forms.samples import ResultForm, SampleForm, ToldForm
from jobs.http import StaffRequest
from jobs.models.company import company_day
from jobs.pages.calls import houses_to_call
from jobs.schedule.laboratory import words_of_sending
from jobs.wording.calls import READ_OUT
from jobs.workflows import samples as workflow

from .sending import form_page, send_once
from .sites import house_page, site_or_404


@allow()
def sample_new(request: StaffRequest, pk: int) -> HttpResponse:
    site = site_or_404(request, pk)
    sample = Sample(site=site, taken_by=request.user)
    form = SampleForm(request.POST or None, instance=sample, site=site)

    def work() -> str:
        sent = form.save(commit=False)
        workflow.send_sample(sample=sent, by=request.user, now=timezone.now())
        messages.success(request, words_of_sending(sent.taken_at))
        return reverse("site-detail", args=[pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return house_page(
        request, form, site, "A sample is sent to the laboratory", button="The sample is sent"
    )


@allow("dispatcher")
def sample_result(request: StaffRequest, pk: int) -> HttpResponse:
    sample = get_object_or_404(Sample.objects.select_related("site"), pk=pk)
    form = ResultForm(request.POST or None, sample=sample)

    def work() -> str:
        found = workflow.enter_result(
            sample=sample, result=form.result(), by=request.user, now=timezone.now()
        )
        if found.is_found:
            messages.warning(request, "“Do not drink” stands now. Call every house on the well.")
            return reverse("sample-told", args=[sample.pk])
        return reverse("site-detail", args=[sample.site_id])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return house_page(
        request, form, sample.site, f"Result of the {sample}", button="Enter the result"
    )


@allow("dispatcher")
def sample_told(request: StaffRequest, pk: int) -> HttpResponse:
    """Bacteria were found: whom to call, what to read out, and the name of who knows."""
    rows = Sample.objects.select_related("site", "well", "place_stage")
    sample = get_object_or_404(rows, pk=pk)
    houses = houses_to_call(sample, on=company_day(timezone.now()))
    left = [choice for house in houses for choice in house.choices()]
    form = ToldForm(request.POST or None, people=left)

    def work() -> str:
        said = {**form.counts_for(), "adult": form.adult()}
        workflow.tell_result(sample=sample, **said, by=request.user, now=timezone.now())
        if len(left) > 1:
            return reverse("sample-told", args=[sample.pk])
        return reverse("site-detail", args=[sample.site_id])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    waiting = [house for house in houses if not house.is_told]
    context = {"sample": sample, "houses": houses, "left": left, "waiting": waiting}
    lines = READ_OUT.get(sample.outcome, ())
    return form_page(request, "sites/sample_told.html", form, nav="search", lines=lines, **context)
