"""Licences and certificates: the list, one of them, and what the owner does with it."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from django.contrib import messages
from django.contrib.auth.models import User
from django.http import HttpResponse, HttpResponseBadRequest
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from jobs.access import allow, has_role
from jobs.errors import EditedMeanwhile
from jobs.forms.fields import put_hidden, refusal_of
from jobs.forms.licences import (
    CorrectLicenceForm,
    LicenceReasonForm,
    NewLicenceForm,
    OnLicenceForm,
    RenewLicenceForm,
)
from jobs.http import StaffRequest
from jobs.models import Skill
from jobs.models.company import company_day
from jobs.pages import licences as page
from jobs.pages.working_time import licences_on_file
from jobs.reports.edit_history import changes_of
from jobs.reports.tables import CONTENT_TYPES, as_csv, as_xlsx
from jobs.wording.licences import COMPANY_ITSELF
from jobs.wording.names import person as name_of
from jobs.workflows import licences as workflow
from jobs.workflows.owner_edits import version_of

from .sending import form_page, send_once

FORM = require_http_methods(["GET", "HEAD", "POST"])


@allow("dispatcher")
@require_safe
def licences(request: StaffRequest) -> HttpResponse:
    context = page.list_of(request.GET, timezone.now())
    context |= {"nav": "people", "is_owner": has_role(request.user, "owner")}
    context["files"] = f"{reverse('licence-file')}?{request.GET.urlencode()}"
    return render(request, "licences/list.html", context)


@allow("dispatcher")
@require_safe
def licence_file(request: StaffRequest) -> HttpResponse:
    """The list as it is narrowed, for a spreadsheet."""
    kind, now = request.GET.get("as", "csv"), timezone.now()
    if kind not in CONTENT_TYPES:
        return HttpResponseBadRequest("This address names no file of licences.")
    table, name = page.table_of(request.GET, now), f"licences-{company_day(now).isoformat()}.{kind}"
    return HttpResponse(
        as_csv(table) if kind == "csv" else as_xlsx([table]),
        content_type=CONTENT_TYPES[kind],
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def _licence_or_404(pk: int) -> Skill:
    row: Skill = get_object_or_404(Skill.objects.select_related("person"), pk=pk)
    return row


@allow("dispatcher")
@require_safe
def licence_detail(request: StaffRequest, pk: int) -> HttpResponse:
    row = _licence_or_404(pk)
    context = page.one_of(row, timezone.now()) | {
        "changes": changes_of(row),
        "is_owner": has_role(request.user, "owner"),
        "nav": "people",
    }
    return render(request, "licences/detail.html", context)


@allow("owner")
@FORM
def licence_new(request: StaffRequest) -> HttpResponse:
    """?who= is chosen already."""
    people = list(User.objects.filter(is_active=True).order_by("last_name", "first_name", "pk"))
    who = {"who": request.GET.get("who", "")}
    form = NewLicenceForm(request.POST or None, people=people, initial=who)

    def work() -> str:
        row = workflow.enter_licence(**form.licence(), by=request.user, now=timezone.now())
        messages.success(request, f"{row.name} is kept.")
        return reverse("licence-detail", args=[row.pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    known = licences_on_file()
    return form_page(request, "licences/new.html", form, nav="people", known=known)


def _act(
    request: StaffRequest,
    row: Skill,
    asked: type[OnLicenceForm],
    act: Callable[..., Skill],
    words: Mapping[str, str],
) -> HttpResponse:
    """`words`: the title above the form, the word on its button, what is said when it is done."""
    form = asked(request.POST or None, licence=row, seen=version_of(row))
    back = reverse("licence-detail", args=[row.pk])

    def work() -> str:
        act(licence=row, **form.cleaned_data, by=request.user, now=timezone.now())
        messages.success(request, words["done"])
        return back

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    if isinstance(refusal_of(form), EditedMeanwhile):
        put_hidden(form, "seen", version_of(row))
    over = f"{row.name}, {name_of(row.person) or COMPANY_ITSELF}"
    about = {"over": over, "back": back, "nav": "people", **words}
    return form_page(request, "sites/edit.html", form, **about)


@allow("owner")
@FORM
def licence_renew(request: StaffRequest, pk: int) -> HttpResponse:
    row = _licence_or_404(pk)
    until = f"{row.expires_on:%-d %B %Y}" if row.expires_on else "no day"
    words = {
        "title": "Until when does the renewed one hold?",
        "lede": f"It ends on {until} as it is. Enter the renewal once the new paper is there: "
        "booking goes by it from then on.",
        "button": "Keep the renewal",
        "done": "Renewed.",
    }
    return _act(request, row, RenewLicenceForm, workflow.renew_licence, words)


@allow("owner")
@FORM
def licence_correct(request: StaffRequest, pk: int) -> HttpResponse:
    words = {
        "title": "What should stand there?",
        "lede": "For what was mistyped. A wrong name, or a wrong person: leave this one out of "
        "use, and enter the right one.",
        "button": "Keep the correction",
        "done": "Corrected.",
    }
    return _act(request, _licence_or_404(pk), CorrectLicenceForm, workflow.correct_licence, words)


@allow("owner")
@FORM
def licence_withdraw(request: StaffRequest, pk: int) -> HttpResponse:
    words = {
        "title": "Leave this licence out of use?",
        "lede": "It allows nothing from today on, and nobody is told of its end any more. Visits "
        "that are booked stay booked: those that are left without it stand on the list.",
        "button": "Leave it out of use",
        "done": "It is out of use.",
    }
    return _act(request, _licence_or_404(pk), LicenceReasonForm, workflow.withdraw_licence, words)


@allow("owner")
@FORM
def licence_again(request: StaffRequest, pk: int) -> HttpResponse:
    words = {
        "title": "Take this licence into use again?",
        "lede": "With the number and the end that stand there: correct or renew it afterwards.",
        "button": "Take it into use again",
        "done": "It is in use again.",
    }
    return _act(request, _licence_or_404(pk), LicenceReasonForm, workflow.use_licence_again, words)
