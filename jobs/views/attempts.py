"""Tries to reach somebody, from the worklist: about a promise, about a visit."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from jobs.access import allow
from jobs.forms.follow_ups import AttemptForm, NotReachedForm
from jobs.forms.telling import CalledForm
from jobs.http import StaffRequest
from jobs.mail.recipients import told_of_visit
from jobs.models.company import company_day
from jobs.pages.attempts import noted, presses
from jobs.pages.telling import begun_call, page_of
from jobs.pages.worklist import rows_of
from jobs.workflows.attempts import record_attempt

from .sending import form_page, send_once
from .visits import visit_or_404
from .worklist import follow_up_or_404


@allow("dispatcher")
def follow_up_attempt(request: StaffRequest, pk: int) -> HttpResponse:
    """Open, and one press where nobody answered: the desk goes on with its list."""
    follow_up, now = follow_up_or_404(pk), timezone.now()
    form = AttemptForm(request.POST or None)

    def work() -> str:
        tried = record_attempt(follow_up=follow_up, by=request.user, now=now, **form.cleaned_data)
        messages.success(request, noted(tried))
        return reverse("worklist")

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    today = company_day(now)
    row = rows_of([follow_up], today)[0]
    context = {"follow_up": follow_up, "row": row, "nav": "worklist", **presses(today)}
    return form_page(request, "follow_ups/attempt.html", form, **context)


@require_POST
@allow("dispatcher")
def visit_not_reached(request: StaffRequest, pk: int) -> HttpResponse:
    """Nobody answered, or a voice mail was left: the visit stays "not told yet"."""
    visit, now = visit_or_404(request, pk), timezone.now()
    form = NotReachedForm(request.POST)

    def work() -> str:
        tried = record_attempt(visit=visit, by=request.user, now=now, **form.cleaned_data)
        messages.success(request, f"{noted(tried)} They are not told yet.")
        return reverse("worklist")

    if form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    call = CalledForm(people=told_of_visit(visit).people, initial=begun_call(visit))
    context = {
        "not_reached": form,
        "nav": "worklist",
        **page_of(visit),
        **presses(company_day(now)),
    }
    return form_page(request, "visits/tell.html", call, **context)
