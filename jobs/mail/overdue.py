"""Late promises: every day to the office, and to the owner once they have grown old."""

from __future__ import annotations

from datetime import date, timedelta

from django.contrib.auth.models import User

from jobs.access import has_role
from jobs.models import Company, FollowUp
from jobs.models.follow_ups import FollowUpQuerySet, past_window
from jobs.models.visits import day_start

from .recipients import office, staff_with


def late_promises(*, on: date) -> FollowUpQuerySet:
    """Late and to be worked on, booked ones too: those the worklist shows as past their window."""
    return FollowUp.objects.to_do_on(on).overdue_on(on)


def late_and_put_off(*, on: date) -> FollowUpQuerySet:
    """Late, and put off beyond the day: the worklist counts and shows them apart."""
    return FollowUp.objects.put_off_on(on).overdue_on(on)


def grown_old(promises: FollowUpQuerySet, *, on: date) -> FollowUpQuerySet:
    """Those made as long ago as the owner wants to be told of."""
    days = Company.load().owner_told_after_days
    return promises.filter(made_at__lt=day_start(on - timedelta(days=days - 1)))


def due_not_booked(*, on: date) -> FollowUpQuerySet:
    """Their day has passed, their window has not, and no visit is booked."""
    return FollowUp.objects.due_by(on).filter(due_on__lt=on).exclude(past_window(on))


def reads_daily_list(user: User) -> bool:
    """Dispatchers read the whole list; the owner too where nobody else minds the office."""
    return user in office()


def has_late_promises(user: User, *, on: date) -> bool:
    if reads_daily_list(user):
        return late_promises(on=on).exists() or due_not_booked(on=on).exists()
    late = FollowUp.objects.overdue_on(on)
    return has_role(user, "owner") and grown_old(late, on=on).exists()


def readers() -> list[User]:
    """Everybody who may get a list, each once."""
    people = {user.pk: user for user in [*office(), *staff_with("owner")]}
    return list(people.values())
