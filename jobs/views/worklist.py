"""What has been promised and is not done, and what the office does about it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from jobs.access import allow, has_role
from jobs.errors import JobsError
from jobs.forms.follow_ups import (
    OpeningForm,
    SettledForm,
    SnoozeForm,
    WaiveForm,
)
from jobs.http import StaffRequest
from jobs.models import FollowUp, FollowUpRule
from jobs.models.company import company_day
from jobs.pages.clocks import clock_of_form
from jobs.pages.notices import notices_over_all
from jobs.pages.openings import of_promise
from jobs.pages.recalls import recalls_of
from jobs.pages.rule_words import closes
from jobs.pages.rules import since
from jobs.pages.worklist import (
    list_of,
    rows_of,
)
from jobs.schedule.free_times import technicians
from jobs.wording.names import person
from jobs.workflows import follow_ups as workflow
from jobs.workflows.follow_up_booking import book_from, planned_by
from jobs.workflows.held import Held
from jobs.workflows.visit_doubts import must_be_sure

from .sending import form_page, send_once

#: a question, and the word on the button that answers it
Act = tuple[str, str]


@allow("dispatcher")
def worklist(request: StaffRequest) -> HttpResponse:
    context = list_of(request.GET, timezone.now()) | notices_over_all()
    context["nav"] = "worklist"
    return render(request, "follow_ups/worklist.html", context)


def follow_up_or_404(pk: int) -> FollowUp:
    row: FollowUp = get_object_or_404(FollowUp.objects.with_site(), pk=pk)
    return row


@allow("dispatcher")
def follow_up_detail(request: StaffRequest, pk: int) -> HttpResponse:
    follow_up = follow_up_or_404(pk)
    today = company_day(timezone.now())
    return render(
        request,
        "follow_ups/follow_up.html",
        {
            "follow_up": follow_up,
            "row": rows_of([follow_up], today)[0],
            "nav": "worklist",
            "since": since(follow_up.terms),
            "closes": closes(follow_up.terms),
            "recalls": recalls_of(follow_up),
            "today": today,
            "attempts": follow_up.attempts.select_related("by"),
            "is_owner": has_role(request.user, "owner"),
            "is_acknowledged": follow_up.terms.closing == FollowUpRule.Closing.ACKNOWLEDGED,
        },
    )


@allow("dispatcher")
def follow_up_book(request: StaffRequest, pk: int) -> HttpResponse:
    """From the list to a booked visit: open, choose, press."""
    follow_up, now, people = follow_up_or_404(pk), timezone.now(), technicians()
    times = of_promise(follow_up, people, now)
    form = OpeningForm(request.POST or None, times=times, people=people)

    def work() -> str:
        chosen, sure = form.cleaned_data["when"], form.cleaned_data["sure"]
        ends_at = chosen.starts_at + timedelta(minutes=follow_up.terms.minutes)
        held = Held(chosen.person, chosen.starts_at, ends_at, chosen.helper)
        must_be_sure(held=held, planned=planned_by(follow_up), agreed=sure, now=now)
        book_from(follow_up=follow_up, held=held, by=request.user, now=now)
        said = f"{timezone.localtime(held.starts_at):%A %-d %B, %H:%M}, {person(held.lead)}"
        messages.success(request, f"Booked: {follow_up.terms.name}, {said}.")
        return reverse("worklist")

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    if form.is_gone:
        form.show(of_promise(follow_up, people, now))
    today, row = company_day(now), rows_of([follow_up], company_day(now))[0]
    clock = clock_of_form(follow_up.site, follow_up.due_on)
    context = {"follow_up": follow_up, "row": row, "clock": clock, "today": today}
    return form_page(request, "follow_ups/book.html", form, nav="worklist", **context)


def _one_form(
    request: StaffRequest, follow_up: FollowUp, form: BaseForm, work: Callable[[], str], act: Act
) -> HttpResponse:
    """`act` is the question above the form and the word on its button."""
    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    title, button = act
    about = {"follow_up": follow_up, "title": title, "button": button, "nav": "worklist"}
    return form_page(request, "follow_ups/one_form.html", form, **about)


@allow("dispatcher")
def follow_up_snooze(request: StaffRequest, pk: int) -> HttpResponse:
    follow_up = follow_up_or_404(pk)
    form = SnoozeForm(request.POST or None)

    def work() -> str:
        row = workflow.snooze(
            follow_up=follow_up, by=request.user, now=timezone.now(), **form.cleaned_data
        )
        if row.snoozes >= workflow.SNOOZES_BEFORE_OWNER:
            messages.warning(request, "Put off three times or more: the owner sees it now.")
        return reverse("worklist")

    return _one_form(request, follow_up, form, work, ("Put off until when, and why?", "Put it off"))


@require_POST
@allow("dispatcher")
def follow_up_take_up(request: StaffRequest, pk: int) -> HttpResponse:
    """What was put off is worked on today: it stands in its group again."""
    try:
        row = workflow.take_up(follow_up=follow_up_or_404(pk), by=request.user, now=timezone.now())
        messages.success(request, f"Taken up again: {row.terms.name}, {row.site}.")
    except JobsError as refusal:
        messages.error(request, refusal.message)
    return redirect("worklist")


@allow("dispatcher")
def follow_up_waive(request: StaffRequest, pk: int) -> HttpResponse:
    follow_up = follow_up_or_404(pk)
    form = WaiveForm(request.POST or None)

    def work() -> str:
        workflow.waive(
            follow_up=follow_up, by=request.user, now=timezone.now(), **form.cleaned_data
        )
        return reverse("worklist")

    return _one_form(request, follow_up, form, work, ("Give up this promise?", "Give it up"))


@allow("dispatcher")
def follow_up_settle(request: StaffRequest, pk: int) -> HttpResponse:
    """A named person says it is handled, where that closes the promise."""
    follow_up = follow_up_or_404(pk)
    form = SettledForm(request.POST or None)

    def work() -> str:
        workflow.acknowledge(
            follow_up=follow_up, by=request.user, now=timezone.now(), **form.cleaned_data
        )
        return reverse("worklist")

    return _one_form(request, follow_up, form, work, ("Is it handled?", "It is handled"))
