"""Telling a customer of a visit by telephone, and noting who was not reached."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.access import allow
from jobs.errors import VisitChanged
from jobs.fieldwork.cautions import DEFERS
from jobs.forms.fields import put_hidden, refusal_of
from jobs.forms.follow_ups import NotReachedForm
from jobs.forms.telling import CalledForm, HandledForm
from jobs.http import StaffRequest
from jobs.mail.recipients import told_of_visit
from jobs.models import Company
from jobs.models.company import company_day
from jobs.pages.attempts import presses
from jobs.pages.telling import begun_call, page_of
from jobs.pages.urgent_calls import THEN, URGENT
from jobs.pages.visit import requests_of
from jobs.workflows.requests import handle
from jobs.workflows.telling import Call, tell_by_telephone

from .sending import form_page, send_once
from .visits import visit_or_404


@allow("dispatcher")
def visit_tell(request: StaffRequest, pk: int) -> HttpResponse:
    """The call: whom, what is read out, and who knows then."""
    visit = visit_or_404(request, pk)
    people, begun = told_of_visit(visit).people, begun_call(visit)
    form = CalledForm(request.POST or None, people=people, initial=begun)

    def work() -> str:
        typed = dict(form.cleaned_data)
        told = tell_by_telephone(
            visit=visit,
            sequence=typed.pop("sequence"),
            call=Call(**typed),
            by=request.user,
            now=timezone.now(),
        )
        messages.success(request, f"Told by telephone: {told.whom}.")
        return reverse("worklist")

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    if isinstance(refusal_of(form), VisitChanged):
        visit = visit_or_404(request, pk)
        put_hidden(form, "sequence", visit.sequence)  # the page shows it as it is now
        put_hidden(form, "read_back", "")
    today = presses(company_day(timezone.now()))
    context = {"not_reached": NotReachedForm(), "nav": "worklist", **page_of(visit), **today}
    return form_page(request, "visits/tell.html", form, **context)


@allow("dispatcher")
def visit_requests(request: StaffRequest, pk: int) -> HttpResponse:
    """What the customer asks: move or cancel the visit, or say what was agreed."""
    visit = visit_or_404(request, pk)
    asked = requests_of(visit)
    form = HandledForm(request.POST or None, initial={"seen": asked["newest"]})

    def work() -> str:
        typed, now = form.cleaned_data, timezone.now()
        if handle(visit=visit, by=request.user, now=now, **typed) == 0:
            messages.info(request, "Somebody handled these requests before you.")
        return reverse("worklist")

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    context = {"nav": "worklist", **asked, **page_of(visit)}
    return form_page(request, "visits/requests.html", form, **context)


@allow("dispatcher")
@require_safe
def urgent_calls(request: StaffRequest) -> HttpResponse:
    """What is read out to somebody who may be in danger."""
    said = {"urgent": URGENT, "then": THEN, "defers": DEFERS, "company": Company.load()}
    return render(request, "follow_ups/urgent_calls.html", said)
