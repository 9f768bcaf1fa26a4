"""Wells: identity and figures in one form, computed answers beside it."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from equipment.models import Site, Well
from jobs.access import allow, has_role, units_of
from jobs.forms.fields import refusal_of
from jobs.forms.well_panels import well_glasses
from jobs.forms.wells import FiguresForm, WellForm
from jobs.http import StaffRequest, row_named

from .acting import posted, send_act
from .sending import form_page
from .sites import own_sites, site_or_404


@allow()
def well_new(request: StaffRequest, pk: int) -> HttpResponse:
    site = site_or_404(request, pk)
    return _well_form(request, site, Well(site=site), "A new well")


@allow()
def well_edit(request: StaffRequest, pk: int) -> HttpResponse:
    wells = Well.objects.filter(site__in=own_sites(request)).select_related("site")
    well = get_object_or_404(wells, pk=pk)
    return _well_form(request, well.site, well, f"Correct what we know of {well}")


def _well_form(request: StaffRequest, site: Site, well: Well, title: str) -> HttpResponse:
    form = _identity(request, site, well)
    figures = _figures(request, site, well)
    sending = request.method == "POST" and "compute" not in request.POST
    valid = sending and all([form.is_valid(), figures.is_valid()])
    if valid:
        told = {**posted(request), "site": site.pk, "well": well.pk}
        back = reverse("site-detail", args=[site.pk])
        if sent := send_act(request, form, "well", back, payload=told):
            return sent
    refusal = refusal_of(form)
    if refusal and refusal.differences:
        form.take_newest_version()
    shown = {"figures": figures, "glasses": well_glasses(figures.texts()), "title": title}
    return form_page(request, "sites/well.html", form, site=site, well=well, nav="search", **shown)


def _identity(request: StaffRequest, site: Site, well: Well) -> WellForm:
    is_office = has_role(request.user, "dispatcher")
    return WellForm(request.POST or None, instance=well, site=site, is_office=is_office)


def _figures(request: StaffRequest, site: Site, well: Well) -> FiguresForm:
    return FiguresForm(
        request.POST or None, site=site, well=well, system=units_of(request.user), prefix="figure"
    )


@require_POST
@allow()
def well_panels(request: StaffRequest, pk: int) -> HttpResponse:
    """The glasses beside the form, worked out while the figures are typed; nothing is kept."""
    site = site_or_404(request, pk)
    well = row_named(Well.objects.at_site(site), request.GET.get("well"))
    figures = _figures(request, site, well or Well(site=site))
    return render(request, "sites/_well_panels.html", {"glasses": well_glasses(figures.texts())})
