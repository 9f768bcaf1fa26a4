"""The owner's list of people: invite, roles, close, open, links."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.contrib.auth.models import User
from django.db.models import Prefetch
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.access import allow
from jobs.errors import JobsError
from jobs.forms.people import ChangePersonForm, NewPersonForm
from jobs.http import StaffRequest
from jobs.models import Skill
from jobs.models.company import company_day
from jobs.workflows import people as workflow

from .sending import form_page, send_once

IN_USE = Prefetch("skills", Skill.objects.filter(withdrawn_on=None))
FORM = require_http_methods(["GET", "HEAD", "POST"])


@allow("owner")
@require_safe
def people(request: StaffRequest) -> HttpResponse:
    rows = User.objects.select_related("profile").prefetch_related("groups", IN_USE)
    ordered = sorted(rows, key=lambda user: (user.last_name or user.username).casefold())
    context = {
        "open": [user for user in ordered if user.is_active],
        "closed": [user for user in ordered if not user.is_active],
        "today": company_day(timezone.now()),
    }
    return render(request, "people/list.html", context)


@allow("owner")
@FORM
def person_new(request: StaffRequest) -> HttpResponse:
    form = NewPersonForm(request.POST or None)

    def work() -> str:
        username = form.cleaned_data["username"]
        user = workflow.add_person(
            username=username, person=form.person(), by=request.user, now=timezone.now()
        )
        messages.success(request, f"A link to choose a password is on its way to {user.email}.")
        return reverse("person-edit", args=[user.pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return form_page(request, "people/new.html", form, nav="people")


@allow("owner")
@FORM
def person_edit(request: StaffRequest, pk: int) -> HttpResponse:
    people_with_all = User.objects.select_related("profile").prefetch_related("groups", IN_USE)
    person = get_object_or_404(people_with_all, pk=pk)
    form = ChangePersonForm(request.POST or None, person=person)

    def work() -> str:
        said, seen, now = form.person(), request.POST.get("seen", ""), timezone.now()
        workflow.change_person(user=person, person=said, seen=seen, by=request.user, now=now)
        messages.success(request, "Kept.")
        return reverse("person-edit", args=[pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return form_page(
        request,
        "people/edit.html",
        form,
        nav="people",
        person=person,
        seen=workflow.person_of(person).stamp,
        today=company_day(timezone.now()),
        to_come=workflow.visits_to_come(person),
    )


def _do(request: StaffRequest, pk: int, work: Callable[[User], str]) -> HttpResponse:
    """One button of a person's page."""
    person = get_object_or_404(User, pk=pk)
    try:
        messages.success(request, work(person))
    except JobsError as refusal:
        messages.error(request, refusal.message)
    return redirect("person-edit", pk=pk)


@allow("owner")
@require_POST
def person_close(request: StaffRequest, pk: int) -> HttpResponse:
    def work(person: User) -> str:
        workflow.close_account(user=person, by=request.user, now=timezone.now())
        left = workflow.visits_to_come(person)
        visits = f" {left} visits to come are in this name: move them." if left else ""
        return f"The account is closed and signed out everywhere.{visits}"

    return _do(request, pk, work)


@allow("owner")
@require_POST
def person_open(request: StaffRequest, pk: int) -> HttpResponse:
    def work(person: User) -> str:
        workflow.open_account(user=person, by=request.user, now=timezone.now())
        return "The account is open again; a link to choose a password is on its way."

    return _do(request, pk, work)


@allow("owner")
@require_POST
def person_link(request: StaffRequest, pk: int) -> HttpResponse:
    def work(person: User) -> str:
        workflow.send_link(user=person, by=request.user, now=timezone.now())
        return f"A link to choose a password is on its way to {person.email}."

    return _do(request, pk, work)
