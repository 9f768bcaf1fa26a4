"""What has been promised and is not done, and what the office does about it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.contrib import messages
from django.contrib.auth.models import User
from django.core.paginator import Paginator
from django.db.models import Count, Q
from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from jobs.access import allow
from jobs.forms.follow_ups import (
    AttemptForm,
    FreeTimeForm,
    SettledForm,
    SnoozeForm,
    WaiveForm,
)
from jobs.forms.worklist import WorklistFilter
from jobs.http import StaffRequest
from jobs.models import (
    Company,
    ContactAttempt,
    Customer,
    DoNotUse,
    FollowUp,
    FollowUpRule,
    SiteTenure,
)
from jobs.models.company import company_day
from jobs.models.follow_ups import FollowUpQuerySet
from jobs.pages.loose_ends import loose_ends
from jobs.pages.site import closes
from jobs.schedule.free_times import FreeTime, nearest, technicians
from jobs.wording.names import person
from jobs.workflows import follow_ups as workflow
from jobs.workflows.follow_up_booking import book_from
from jobs.workflows.visits import Held

from .sending import form_page, send_once

ROWS = 50


@dataclass
class Row:
    """One promise as the list shows it."""

    follow_up: FollowUp
    today: date
    customer: Customer | None = None
    attempts: list[ContactAttempt] = field(default_factory=list)

    @property
    def days(self) -> int:
        """Days past the window (positive) or left in it (negative or zero)."""
        return (self.today - self.follow_up.window_until).days

    @property
    def left(self) -> int:
        return -self.days

    @property
    def is_late(self) -> bool:
        return self.days > 0

    @property
    def late_since_first(self) -> int:
        return (self.today - self.follow_up.first_due_on).days

    @property
    def goes_to_owner(self) -> bool:
        return self.follow_up.snoozes >= workflow.SNOOZES_BEFORE_OWNER

    @property
    def last(self) -> ContactAttempt | None:
        return self.attempts[0] if self.attempts else None


@dataclass
class Group:
    """One harm, worst first; empty groups stay as one quiet line."""

    harm: int
    label: str
    total: int = 0
    late: int = 0
    rows: list[Row] = field(default_factory=list)


@allow("dispatcher")
def worklist(request: StaffRequest) -> HttpResponse:
    now = timezone.now()
    today = company_day(now)
    sieve = WorklistFilter(request.GET)
    due = sieve.narrow(due_rows(today), today)
    page = Paginator(due.with_site().select_related("visit__lead"), ROWS).get_page(
        request.GET.get("page")
    )
    notices = DoNotUse.objects.standing().exclude(level=DoNotUse.Level.SAMPLE_PENDING)
    return render(
        request,
        "follow_ups/worklist.html",
        {
            "today": today,
            "now": now,
            "page_obj": page,
            "nav": "worklist",
            "groups": grouped(due, rows_of(page.object_list, today), today),
            "sieve": sieve,
            "loose": loose_ends(now),
            "notices": notices.select_related("site").order_by("opened_at")[:ROWS],
        },
    )


def due_rows(today: date) -> FollowUpQuerySet:
    """Open and due, and booked ones past their window: a late promise does not hide."""
    late_and_booked = Q(status=FollowUp.Status.BOOKED, window_until__lt=today)
    awake = Q(snoozed_until=None) | Q(snoozed_until__lte=today)
    open_and_due = Q(status=FollowUp.Status.OPEN, window_from__lte=today) & awake
    return FollowUp.objects.filter(open_and_due | late_and_booked).order_by(
        "rule__harm", "due_on", "pk"
    )


def rows_of(follow_ups: Iterable[FollowUp], today: date) -> list[Row]:
    """Rows with whom to call and what was tried: two more queries, however many rows."""
    rows = [Row(follow_up, today) for follow_up in follow_ups]
    sites = {row.follow_up.site_id for row in rows if row.follow_up.site_id}
    tenures = SiteTenure.objects.at(today).filter(site__in=sites).select_related("customer")
    people = {t.site_id: t.customer for t in tenures.order_by("is_contact", "from_on")}
    tried: dict[int | None, list[ContactAttempt]] = {}
    for attempt in ContactAttempt.objects.filter(follow_up__in=[r.follow_up.pk for r in rows]):
        tried.setdefault(attempt.follow_up_id, []).append(attempt)
    for row in rows:
        if row.follow_up.site_id:
            row.customer = people.get(row.follow_up.site_id)
        row.attempts = tried.get(row.follow_up.pk, [])
    return rows


def grouped(due: FollowUpQuerySet, rows: list[Row], today: date) -> list[Group]:
    groups = {harm: Group(harm, str(label)) for harm, label in FollowUpRule.Harm.choices}
    counted = (
        due.order_by()
        .values("rule__harm")
        .annotate(total=Count("pk"), late=Count("pk", filter=Q(window_until__lt=today)))
    )
    for found in counted:
        groups[found["rule__harm"]].total = found["total"]
        groups[found["rule__harm"]].late = found["late"]
    for row in rows:
        groups[row.follow_up.rule.harm].rows.append(row)
    return list(groups.values())


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
            "closes": closes(follow_up.rule),
            "today": today,
            "attempt_form": AttemptForm(),
            "attempts": follow_up.attempts.select_related("by"),
            "is_acknowledged": follow_up.rule.closing == FollowUpRule.Closing.ACKNOWLEDGED,
        },
    )


@allow("dispatcher")
def follow_up_book(request: StaffRequest, pk: int) -> HttpResponse:
    """From the list to a booked visit: open, choose, press."""
    follow_up, now, people = follow_up_or_404(pk), timezone.now(), technicians()
    times = offered(follow_up, people, now)
    form = FreeTimeForm(request.POST or None, times=times, people=people)

    def work() -> str:
        lead, starts_at = form.cleaned_data["when"]
        ends_at = starts_at + timedelta(minutes=follow_up.rule.minutes)
        held = Held(lead, starts_at, ends_at)
        book_from(follow_up=follow_up, held=held, by=request.user, now=timezone.now())
        said = f"{timezone.localtime(starts_at):%A %-d %B, %H:%M}, {person(lead)}"
        messages.success(request, f"Booked: {follow_up.rule.name}, {said}.")
        return reverse("worklist")

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    row = rows_of([follow_up], company_day(now))[0]
    return form_page(
        request,
        "follow_ups/book.html",
        form,
        follow_up=follow_up,
        times=times,
        row=row,
        first=first_choice(follow_up),
        nav="worklist",
        today=company_day(now),
    )


def offered(follow_up: FollowUp, people: list[User], now: datetime) -> list[FreeTime]:
    return nearest(
        first_choice=first_choice(follow_up),
        people=people,
        minutes=follow_up.rule.minutes,
        due_on=follow_up.due_on,
        window=(follow_up.window_from, follow_up.window_until),
        now=now,
        company=Company.load(),
    )


def first_choice(follow_up: FollowUp) -> User | None:
    """Who did the work the promise comes from, else who fitted the system."""
    if follow_up.from_visit_id:
        visit = follow_up.from_visit
        return visit.lead if visit else None
    return follow_up.train.installed_by if follow_up.train else None


def _one_form(
    request: StaffRequest, follow_up: FollowUp, form: BaseForm, work: Callable[[], str], title: str
) -> HttpResponse:
    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return form_page(
        request, "follow_ups/one_form.html", form, follow_up=follow_up, title=title, nav="worklist"
    )


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

    return _one_form(request, follow_up, form, work, "Put off until when, and why?")


@allow("dispatcher")
def follow_up_waive(request: StaffRequest, pk: int) -> HttpResponse:
    follow_up = follow_up_or_404(pk)
    form = WaiveForm(request.POST or None)

    def work() -> str:
        workflow.waive(
            follow_up=follow_up, by=request.user, now=timezone.now(), **form.cleaned_data
        )
        return reverse("worklist")

    return _one_form(request, follow_up, form, work, "Give up this promise?")


@allow("dispatcher")
def follow_up_settle(request: StaffRequest, pk: int) -> HttpResponse:
    """A named person says it is settled, where that closes the promise."""
    follow_up = follow_up_or_404(pk)
    form = SettledForm(request.POST or None)

    def work() -> str:
        workflow.acknowledge(
            follow_up=follow_up, by=request.user, now=timezone.now(), **form.cleaned_data
        )
        return reverse("worklist")

    return _one_form(request, follow_up, form, work, "Is it settled?")


@allow("dispatcher")
def follow_up_attempt(request: StaffRequest, pk: int) -> HttpResponse:
    follow_up = follow_up_or_404(pk)
    form = AttemptForm(request.POST or None)

    def work() -> str:
        workflow.record_attempt(
            follow_up=follow_up, by=request.user, now=timezone.now(), **form.cleaned_data
        )
        return reverse("follow-up-detail", args=[pk])

    return _one_form(request, follow_up, form, work, "What was tried?")
