"""Visits of somebody who is away or late go to others, go later, or go back."""

from __future__ import annotations

from datetime import date

from django.contrib import messages
from django.contrib.auth.models import User
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from jobs.access import allow
from jobs.errors import VisitChanged
from jobs.forms.fields import refusal_of
from jobs.forms.giving import BackForm, GiveForm
from jobs.http import StaffRequest, read_day
from jobs.models import Absence
from jobs.models.company import company_day
from jobs.pages.giving import back_of, page_of, said_of_giving
from jobs.pages.late_day import AS_IT_IS, late_day_of, said_of_late
from jobs.schedule.free_times import technicians
from jobs.wording.names import person as name_of
from jobs.workflows.giving import come_after_all, give_visits
from jobs.workflows.put_back import put_back

from .sending import form_page, send_once

FORM = require_http_methods(["GET", "HEAD", "POST"])


def absence_or_404(pk: int) -> Absence:
    rows = Absence.objects.standing().select_related("person", "entered_by")
    row: Absence = get_object_or_404(rows, pk=pk)
    return row


@allow("dispatcher")
@FORM
def absence(request: StaffRequest, pk: int) -> HttpResponse:
    """One day of it; ?on= says which, else the first with visits."""
    row, asked = absence_or_404(pk), read_day(request.GET.get("on"))
    context, form = _page(request, row, asked)

    def work() -> str:
        now, choices = timezone.now(), form.choices()
        given = give_visits(absence=row, choices=choices, by=request.user, now=now)
        messages.success(request, said_of_giving(given))
        return reverse("absence", args=[pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    if isinstance(refusal := refusal_of(form), VisitChanged):
        context, form = _page(request, row, asked)
        form.renew(refusal)
    return form_page(request, "time/absence.html", form, nav="day", **context)


def _page(
    request: StaffRequest, row: Absence, asked: date | None
) -> tuple[dict[str, object], GiveForm]:
    people = technicians()
    context, rows = page_of(row, people, asked, timezone.now())
    by_number = {who.pk: who for who in people}
    form = GiveForm(request.POST or None, rows=rows, people=by_number)
    shown = [(each, form.boxes(each.visit)) for each in rows]
    return {**context, "shown": shown}, form


@allow("dispatcher")
@FORM
def absence_end(request: StaffRequest, pk: int) -> HttpResponse:
    """The person comes after all; what was given away and not changed since may go back."""
    row = absence_or_404(pk)
    context, givings = back_of(row, timezone.now())
    form = BackForm(request.POST or None, givings=givings)

    def work() -> str:
        now = timezone.now()
        back = come_after_all(absence=row, back=form.chosen(), by=request.user, now=now)
        said = f" {len(back)} visit{'s' if len(back) != 1 else ''} taken back." if back else ""
        messages.success(request, f"{name_of(row.person)} can be booked again.{said}")
        return reverse("people-time")

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return form_page(request, "time/back.html", form, nav="day", **context)


@allow("dispatcher")
@FORM
def day_late(request: StaffRequest, pk: int) -> HttpResponse:
    """The rest of the day of somebody who runs late; ?on= says which day, else today."""
    who = get_object_or_404(User, pk=pk, groups__name="technician")
    on = read_day(request.GET.get("on")) or company_day(timezone.now())
    context, form = _late_page(request, who, on)

    def work() -> str:
        now, choices = timezone.now(), form.choices()
        put = put_back(person=who, choices=choices, by=request.user, now=now)
        messages.success(request, said_of_late(put, who))
        return f"{reverse('day')}?on={on.isoformat()}"

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    if isinstance(refusal := refusal_of(form), VisitChanged):
        context, form = _late_page(request, who, on)
        form.renew(refusal)
    return form_page(request, "visits/late_day.html", form, nav="day", **context)


def _late_page(request: StaffRequest, who: User, on: date) -> tuple[dict[str, object], GiveForm]:
    people = technicians()
    context, rows = late_day_of(who, people, on, timezone.now())
    by_number = {one.pk: one for one in [*people, who]}
    form = GiveForm(request.POST or None, rows=rows, people=by_number, leave=AS_IT_IS)
    shown = [(each, form.boxes(each.visit)) for each in rows]
    return {**context, "shown": shown}, form
