"""Contacts of a house: added, changed, ended."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from jobs.access import allow
from jobs.forms.contacts import ContactForm, EndContactForm
from jobs.forms.sites import CustomerForm
from jobs.http import StaffRequest
from jobs.models import Customer, SiteTenure
from jobs.workflows import contacts as workflow

from .sending import form_page, send_once
from .sites import house_page, kept, known_holder, site_or_404, typed_now


@allow("dispatcher")
def contact_new(request: StaffRequest, pk: int) -> HttpResponse:
    """Somebody on file, or a new person, in a part at this house."""
    site = site_or_404(request, pk)
    known, typed = known_holder(request), typed_now(request)
    form = ContactForm(typed, instance=SiteTenure(site=site), initial=kept(request))
    customer = None if known else CustomerForm(typed, prefix="customer")

    def work() -> str:
        tenure = form.save(commit=False)
        tenure.customer = known or (customer.save(commit=False) if customer else Customer())
        written = workflow.add_contact(tenure=tenure, by=request.user, now=timezone.now())
        messages.success(request, _said(tenure, "is a contact of this house now", written))
        return reverse("site-detail", args=[pk])

    valid = [part.is_valid() for part in (form, customer) if part is not None]
    if typed and all(valid) and (sent := send_once(request, form, work)):
        return sent
    return form_page(
        request, "sites/contact_new.html", form, site=site, customer_form=customer, known=known
    )


@allow("dispatcher")
def contact_edit(request: StaffRequest, pk: int) -> HttpResponse:
    """What a contact is told and does; name and numbers are corrected at the person."""
    tenure = _tenure_or_404(request, pk)
    form = ContactForm(request.POST or None, instance=tenure)

    def work() -> str:
        row, version = form.save(commit=False), form.opened_version or 0
        written = workflow.change_contact(
            tenure=row, version=version, by=request.user, now=timezone.now()
        )
        messages.success(request, _said(row, "is changed", written))
        return reverse("site-detail", args=[row.site_id])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    title = f"What {tenure.customer} is told"
    return house_page(request, form, tenure.site, title, button="Keep the change")


@allow("dispatcher")
def contact_end(request: StaffRequest, pk: int) -> HttpResponse:
    tenure = _tenure_or_404(request, pk)
    form = EndContactForm(request.POST or None)

    def work() -> str:
        on = form.cleaned_data["on"]
        workflow.end_contact(tenure=tenure, on=on, by=request.user, now=timezone.now())
        messages.success(request, f"{tenure.customer} is told nothing more about this house.")
        return reverse("site-detail", args=[tenure.site_id])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    title = f"{tenure.customer}, {tenure.get_part_display()}: no contact any more"
    return house_page(request, form, tenure.site, title, button="End it")


def _tenure_or_404(request: StaffRequest, pk: int) -> SiteTenure:
    """A contact of today, of a house this person may read."""
    rows = SiteTenure.objects.open().select_related("customer", "site")
    tenure: SiteTenure = get_object_or_404(rows, pk=pk)
    site_or_404(request, tenure.site_id)
    return tenure


def _said(tenure: SiteTenure, what: str, written: int) -> str:
    letters = f"{written} letter{'s' if written > 1 else ''} about visits ahead"
    told = f" {letters} to them." if written else ""
    return f"{tenure.customer} {what}.{told}"
