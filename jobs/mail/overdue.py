"""Late promises: every day to the office, and to the owner once they have grown old."""

from __future__ import annotations

from datetime import date, timedelta

from django.contrib.auth.models import User

from jobs.access import has_role
from jobs.models import Company, FollowUp
from jobs.models.follow_ups import FollowUpQuerySet
from jobs.models.visits import day_start

from .recipients import office, staff_with


def late_promises(*, on: date) -> FollowUpQuerySet:
    """Past their window, worst first. A booked one past its window is late too."""
    return FollowUp.objects.overdue_on(on).order_by("rule__harm", "first_due_on", "pk")


def grown_old(*, on: date) -> FollowUpQuerySet:
    """Late, and made as long ago as the owner wants to be told of."""
    days = Company.load().owner_told_after_days
    return late_promises(on=on).filter(made_at__lt=day_start(on - timedelta(days=days - 1)))


def due_not_booked(*, on: date) -> FollowUpQuerySet:
    """Their day has passed, their window has not, and no visit is booked."""
    return (
        FollowUp.objects.due_by(on)
        .filter(due_on__lt=on, window_until__gte=on)
        .order_by("rule__harm", "first_due_on", "pk")
    )


def reads_daily_list(user: User) -> bool:
    """Dispatchers read the whole list; the owner too where nobody else minds the office."""
    return user in office()


def has_late_promises(user: User, *, on: date) -> bool:
    if reads_daily_list(user):
        return late_promises(on=on).exists() or due_not_booked(on=on).exists()
    return has_role(user, "owner") and grown_old(on=on).exists()


def readers() -> list[User]:
    """Everybody who may get a list, each once."""
    people = {user.pk: user for user in [*office(), *staff_with("owner")]}
    return list(people.values())


def days_late(follow_up: FollowUp, *, on: date) -> int:
    """Lateness counts from the first due day, whatever was put off since."""
    return (on - follow_up.first_due_on).days
