"""A notice held by treatment at one house: held by the office, raised again by whoever sees why."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from equipment.models import Site
from jobs.access import allow
from jobs.forms.samples import KnowsForm
from jobs.forms.treated import HoldForm, RaiseForm
from jobs.http import StaffRequest
from jobs.models import DoNotUse, HeldByTreatment
from jobs.pages.notices import call_of, holding_page
from jobs.workflows.treated import hold, raise_again, tell_raised

from .sending import form_page, send_once
from .sites import own_sites


@allow("dispatcher")
def notice_hold(request: StaffRequest, pk: int) -> HttpResponse:
    """At one house the treated taps may be drunk from; the notice goes on standing."""
    rows = DoNotUse.objects.standing().filter(level=DoNotUse.Level.NO_DRINKING)
    notice = get_object_or_404(rows.select_related("site", "well"), pk=pk)
    asked = request.GET.get("site", "")
    here = int(asked) if asked.isdecimal() and len(asked) < 19 else notice.site_id
    site = get_object_or_404(Site.objects.filter(pk__in=notice.houses), pk=here)
    form = HoldForm(request.POST or None)

    def work() -> str:
        hold(
            notice=notice,
            site=site,
            holding=form.holding(),
            by=request.user,
            now=timezone.now(),
        )
        return reverse("site-detail", args=[site.pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    context = holding_page(notice, site, now=timezone.now())
    return form_page(request, "sites/notice_hold.html", form, nav="search", **context)


@allow()
def held_again(request: StaffRequest, pk: int) -> HttpResponse:
    """Power cut, bypass, alarm: treatment holds nothing any more at this house."""
    held, now = _held_or_404(request, pk), timezone.now()
    form = RaiseForm(request.POST or None)
    back = reverse("site-detail", args=[held.site_id])

    def work() -> str:
        raise_again(held=held, again=form.again(), by=request.user, now=now)
        return back

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return form_page(request, "sites/held_again.html", form, nav="search", **call_of(held, now=now))


@allow()
def held_told(request: StaffRequest, pk: int) -> HttpResponse:
    """Raised by what the program saw: somebody tells the house, by name."""
    held, now = _held_or_404(request, pk), timezone.now()
    form = KnowsForm(request.POST or None)
    back = reverse("site-detail", args=[held.site_id])

    def work() -> str:
        tell_raised(held=held, adult=form.adult(), by=request.user, now=now)
        return back

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return form_page(request, "sites/held_again.html", form, nav="search", **call_of(held, now=now))


def _held_or_404(request: StaffRequest, pk: int) -> HeldByTreatment:
    """Of a house this person may read."""
    rows = HeldByTreatment.objects.select_related("site", "notice__lifted_by", "raised_by", "train")
    held: HeldByTreatment = get_object_or_404(rows.filter(site__in=own_sites(request)), pk=pk)
    return held
