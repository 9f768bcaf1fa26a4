"""Visits of somebody who is away, late or without a licence go to others, go later, or go back."""

from __future__ import annotations

from collections.abc import Callable, Sequence

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
from jobs.forms.giving import Asked, BackForm, GiveForm
from jobs.http import StaffRequest, read_day
from jobs.models import Absence
from jobs.models.company import company_day
from jobs.pages.giving import back_of, page_of, said_of_giving
from jobs.pages.late_day import AS_IT_IS, late_day_of, said_of_late
from jobs.pages.licences import visits_of
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


Drawn = tuple[dict[str, object], GiveForm]


def _give(
    request: StaffRequest, template: str, draw: Callable[[], Drawn], give: Callable[[GiveForm], str]
) -> HttpResponse:
    """Who takes each visit; one that changed meanwhile is shown as it is now, and asked again."""
    context, form = draw()

    def work() -> str:
        return give(form)

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    if isinstance(refusal := refusal_of(form), VisitChanged):
        context, form = draw()
        form.renew(refusal)
    return form_page(request, template, form, nav="day", **context)


def _drawn(
    request: StaffRequest,
    page: tuple[dict[str, object], Sequence[Asked]],
    people: list[User],
    **more: str,
) -> Drawn:
    context, rows = page
    by_number = {who.pk: who for who in people}
    form = GiveForm(request.POST or None, rows=rows, people=by_number, **more)
    shown = [(each, form.boxes(each.visit)) for each in rows]
    return {**context, "shown": shown}, form


@allow("dispatcher")
@FORM
def absence(request: StaffRequest, pk: int) -> HttpResponse:
    """One day of it; ?on= says which, else the first with visits."""
    row, asked = absence_or_404(pk), read_day(request.GET.get("on"))

    def draw() -> Drawn:
        people = technicians()
        return _drawn(request, page_of(row, people, asked, timezone.now()), people)

    def give(form: GiveForm) -> str:
        now, choices = timezone.now(), form.choices()
        given = give_visits(absence=row, choices=choices, by=request.user, now=now)
        messages.success(request, said_of_giving(given))
        return reverse("absence", args=[pk])

    return _give(request, "time/absence.html", draw, give)


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

    def draw() -> Drawn:
        people = technicians()
        page = late_day_of(who, people, on, timezone.now())
        return _drawn(request, page, [*people, who], leave=AS_IT_IS)

    def give(form: GiveForm) -> str:
        now, choices = timezone.now(), form.choices()
        put = put_back(person=who, choices=choices, by=request.user, now=now)
        messages.success(request, said_of_late(put, who))
        return f"{reverse('day')}?on={on.isoformat()}"

    return _give(request, "visits/late_day.html", draw, give)


@allow("dispatcher")
@FORM
def licence_visits(request: StaffRequest, pk: int) -> HttpResponse:
    """Visits of somebody that nobody who comes may do any more; ?on= says which day."""
    who = get_object_or_404(User, pk=pk)
    asked = read_day(request.GET.get("on"))

    def draw() -> Drawn:
        people = technicians()
        return _drawn(request, visits_of(who, people, asked, timezone.now()), people)

    def give(form: GiveForm) -> str:
        now, choices = timezone.now(), form.choices()
        given = put_back(person=who, choices=choices, by=request.user, now=now)
        messages.success(request, said_of_giving(given))
        return reverse("licences")

    return _give(request, "licences/visits.html", draw, give)
