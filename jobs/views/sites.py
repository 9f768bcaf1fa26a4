"""Houses: their page, entering, editing, changing hands, uses the water must suit."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Exists, OuterRef
from django.forms import BaseForm
from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from equipment.models import Site, SpecialUse, Well
from equipment.models.sites import SiteQuerySet
from jobs.access import allow, has_role, sites_for, units_of
from jobs.forms.fields import refusal_of
from jobs.forms.sites import (
    ClinicForm,
    CustomerForm,
    EditedForm,
    EndUseForm,
    HandoverForm,
    HolderForm,
    SiteForm,
    SpecialUseForm,
)
from jobs.http import StaffRequest, row_named
from jobs.models import Customer
from jobs.models.company import company_day
from jobs.pages.clocks import visits_by_another_clock
from jobs.pages.site import context_of, losses_of
from jobs.schedule.gate_codes import code_is_shown
from jobs.workflows import sites as workflow
from jobs.workflows.edits import save_edited
from jobs.workflows.notices import clinic_told

from .noted import noted
from .sending import form_page, send_once


def own_sites(request: StaffRequest) -> SiteQuerySet:
    """Houses whose parts and wells this person may see and correct."""
    return sites_for(request.user, today=company_day(timezone.now()))


def site_or_404(request: StaffRequest, pk: int) -> Site:
    """A house this person may read."""

    def read() -> Site:
        lost = Exists(losses_of(OuterRef("pk")))
        site: Site = get_object_or_404(own_sites(request).annotate(is_lost=lost), pk=pk)
        return site

    return noted(request, ("house", pk), read)


@allow()
def site_detail(request: StaffRequest, pk: int) -> HttpResponse:
    site = site_or_404(request, pk)
    context = context_of(site, now=timezone.now(), system=units_of(request.user))
    is_office = has_role(request.user, "dispatcher")
    is_shown = is_office or code_is_shown(site, request.user, now=timezone.now())
    context |= {"is_office": is_office, "me": request.user, "code_is_shown": is_shown}
    context["is_owner"] = has_role(request.user, "owner")
    return render(request, "sites/site.html", {**context, "nav": "search"})


def known_holder(request: StaffRequest) -> Customer | None:
    """A customer on file: named in the address, chosen before, or taken just now."""
    sent = request.POST.get("known") or request.GET.get("customer")
    return row_named(Customer.objects.all(), request.POST.get("take", sent))


def typed_now(request: StaffRequest) -> QueryDict | None:
    """What was sent to be done. Taking somebody from the list is no sending yet."""
    return None if not request.POST or "take" in request.POST else request.POST


def kept(request: StaffRequest, *, prefix: str = "", q: str = "") -> dict[str, object]:
    """What stood in the boxes when somebody was taken from the list; `q` is what was looked for."""
    boxes: dict[str, object] = {
        name.removeprefix(prefix): values if name == "ending" else values[-1]
        for name, values in request.POST.lists()
        if "take" in request.POST and name.startswith(prefix)
    }
    return {q: request.GET.get("q", ""), **boxes} if q else boxes


@allow("dispatcher")
def site_new(request: StaffRequest) -> HttpResponse:
    """A house with its holder: a new customer, or the one named in the address."""
    known, typed = known_holder(request), typed_now(request)
    form = SiteForm(typed, initial=kept(request, q="street"))
    customer = None if known else CustomerForm(typed, prefix="customer")
    holding = HolderForm(typed, prefix="holding", initial=kept(request, prefix="holding-"))

    def work() -> str:
        holder = known or (customer.save(commit=False) if customer else None)
        site = workflow.create_site(
            site=form.save(commit=False),
            holder=holder,
            part=holding.cleaned_data["part"],
            from_on=holding.cleaned_data["from_on"],
            by=request.user,
            now=timezone.now(),
        )
        return reverse("site-detail", args=[site.pk])

    valid = [part.is_valid() for part in (form, customer, holding) if part is not None]
    if typed and all(valid) and (sent := send_once(request, form, work)):
        return sent
    return form_page(
        request, "sites/site_new.html", form, customer_form=customer, holding=holding, known=known
    )


@allow("dispatcher")
def site_edit(request: StaffRequest, pk: int) -> HttpResponse:
    site = site_or_404(request, pk)
    form = SiteForm(request.POST or None, instance=site)

    def work() -> str:
        row, now = form.save(commit=False), timezone.now()
        save_edited(row=row, version=form.opened_version or 0, by=request.user, now=now, site=row)
        if "time_zone" in form.changed_data and (told := visits_by_another_clock(row, now)):
            messages.warning(request, told)
        return reverse("site-detail", args=[pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return house_page(
        request, form, site, "Correct the facts of the house", button="Keep the facts"
    )


def edit_page(request: StaffRequest, form: BaseForm, **context: object) -> HttpResponse:
    """One form on a page; after a conflict, saving again keeps ours."""
    refusal = refusal_of(form)
    if isinstance(form, EditedForm) and refusal and refusal.differences:
        form.take_newest_version()
    return form_page(request, "sites/edit.html", form, nav="search", **context)


def house_page(
    request: StaffRequest,
    form: BaseForm,
    site: Site,
    title: str,
    *,
    over: object = "",
    **context: object,
) -> HttpResponse:
    """A form about a house, or something in it, with the way back to the house."""
    back = reverse("site-detail", args=[site.pk])
    return edit_page(request, form, title=title, over=str(over or site), back=back, **context)


@allow("dispatcher")
def tenure_change(request: StaffRequest, pk: int) -> HttpResponse:
    """The house is sold or let anew."""
    site = site_or_404(request, pk)
    known, typed = known_holder(request), typed_now(request)
    form = HandoverForm(typed, site=site, initial=kept(request))
    customer = None if known else CustomerForm(typed, prefix="customer")
    is_ours = not typed or typed.get("buyer") in (None, "", workflow.Buyer.OURS)

    def work() -> str:
        new = customer.save(commit=False) if customer and is_ours else None
        holder = known if is_ours and known else new
        said = {**form.cleaned_data, "ending": list(form.cleaned_data["ending"])}
        workflow.change_hands(
            site=site, customer=holder, **said, by=request.user, now=timezone.now()
        )
        who = f"{holder} holds the house now." if holder else "Noted: nobody there is ours."
        messages.success(request, f"{who} Mail to the former one stopped.")
        return reverse("site-detail", args=[pk])

    valid = [part.is_valid() for part in (form, is_ours and customer) if part]
    if typed and all(valid) and (sent := send_once(request, form, work)):
        return sent
    return form_page(
        request, "sites/tenure_change.html", form, site=site, customer_form=customer, known=known
    )


@allow()
def special_use_new(request: StaffRequest, pk: int) -> HttpResponse:
    """At this house, or at another one that gets the same water."""
    site = site_or_404(request, pk)
    house: Site | None = site
    if named := request.GET.get("house"):
        house = row_named(Site.objects.on_wells(Well.objects.at_site(site)), named)
    if house is None:
        raise Http404
    form = SpecialUseForm(request.POST or None, instance=SpecialUse(site=house))

    def work() -> str:
        workflow.note_special_use(use=form.save(commit=False), by=request.user, now=timezone.now())
        return reverse("site-detail", args=[pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    title, button = "A use the water must suit", "Note the use"
    return house_page(request, form, site, title, over=house, button=button)


@allow("dispatcher")
def special_use_told(request: StaffRequest, pk: int) -> HttpResponse:
    """Who told the dialysis clinic, and whom."""
    use = get_object_or_404(SpecialUse.objects.select_related("site"), pk=pk)
    form = ClinicForm(request.POST or None)

    def work() -> str:
        whom = form.cleaned_data["whom"]
        clinic_told(special_use=use, whom=whom, by=request.user, now=timezone.now())
        return reverse("site-detail", args=[use.site_id])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return house_page(
        request, form, use.site, "The clinic has been told", over=use, button="They know"
    )


@allow("dispatcher")
def special_use_end(request: StaffRequest, pk: int) -> HttpResponse:
    use = get_object_or_404(SpecialUse.objects.select_related("site"), pk=pk)
    form = EndUseForm(request.POST or None)

    def work() -> str:
        on = form.cleaned_data["ended_on"]
        workflow.end_special_use(use=use, on=on, by=request.user, now=timezone.now())
        return reverse("site-detail", args=[use.site_id])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return house_page(
        request, form, use.site, "This use has ended", over=use, button="It has ended"
    )
