"""The worklist: promises that are due, by the harm they prevent, with whom to call."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from django.contrib.auth.models import User
from django.db.models import Count, Q

from jobs.models import Company, ContactAttempt, Customer, FollowUp, FollowUpRule, SiteTenure
from jobs.models.follow_ups import FollowUpQuerySet
from jobs.schedule.free_times import FreeTime, nearest
from jobs.workflows.follow_ups import SNOOZES_BEFORE_OWNER


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
        return self.follow_up.snoozes >= SNOOZES_BEFORE_OWNER

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
    people = SiteTenure.objects.contacts(sites, today)
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
