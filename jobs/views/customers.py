"""Customers: entering, their page, editing."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from jobs.access import allow
from jobs.forms.sites import CustomerForm
from jobs.http import StaffRequest
from jobs.models import Customer, Job, OutboxMail, SiteTenure
from jobs.models.company import company_day
from jobs.pages.phone_calls import calls_of_customer
from jobs.workflows.sites import create_customer, edit_customer

from .sending import send_once
from .sites import edit_page


@allow("dispatcher")
def customer_new(request: StaffRequest) -> HttpResponse:
    form = CustomerForm(request.POST or None)

    def work() -> str:
        row = create_customer(customer=form.save(commit=False), by=request.user, now=timezone.now())
        return reverse("customer-detail", args=[row.pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return edit_page(
        request, form, title="A new customer", back=reverse("search"), button="Add the customer"
    )


@allow("dispatcher")
def customer_detail(request: StaffRequest, pk: int) -> HttpResponse:
    customer = get_object_or_404(Customer, pk=pk)
    tenures = SiteTenure.objects.filter(customer=customer).select_related("site")
    return render(
        request,
        "sites/customer.html",
        {
            "customer": customer,
            "nav": "search",
            "today": company_day(timezone.now()),
            "tenures": tenures,
            "calls": calls_of_customer(customer),
            "jobs": Job.objects.filter(customer=customer).select_related("site")[:12],
            "mails": OutboxMail.objects.filter(customer=customer)[:12],
        },
    )


@allow("dispatcher")
def customer_edit(request: StaffRequest, pk: int) -> HttpResponse:
    customer = get_object_or_404(Customer, pk=pk)
    form = CustomerForm(request.POST or None, instance=customer)

    def work() -> str:
        row = form.save(commit=False)
        version = form.opened_version or 0
        edit_customer(customer=row, version=version, by=request.user, now=timezone.now())
        return reverse("customer-detail", args=[pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return edit_page(
        request,
        form,
        title=f"Correct what we know of {customer}",
        button="Keep the correction",
        back=reverse("customer-detail", args=[pk]),
    )
