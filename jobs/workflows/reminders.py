"""Mail that no action causes: reminders of visits, daily lists, the letter about due work.

The tick calls these again and again; the keys of the rows make the second call harmless.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import get_args

from django.db.models import Max

from jobs.mail.about import (
    TELLING_THE_TIME,
    due_work,
    licences_ending,
    overdue_list,
    visit_reminder,
)
from jobs.mail.about.visit_reminder import REMINDER_DAYS, ReminderKind, reminder_at, useless_from
from jobs.models import Company, Customer, OutboxMail, SiteTenure, Visit
from jobs.models.company import company_day

KINDS: tuple[ReminderKind, ...] = get_args(ReminderKind)
LOOK_AHEAD = timedelta(days=max(REMINDER_DAYS.values()) + 1)
#: between two letters about due work to one customer
LETTER_GAP = timedelta(days=28)
LETTERS_A_SCAN = 200


def write_due_reminders(now: datetime) -> int:
    """A week and a day before each confirmed visit, unless the customer heard of it later."""
    ahead = Visit.objects.filter(
        status=Visit.Status.CONFIRMED, starts_at__gt=now, starts_at__lt=now + LOOK_AHEAD
    )
    visits = list(ahead.with_job())
    told, written = _told_at(visits), _written(visits)
    hour, made = Company.load().mail_from_hour, 0
    for visit in visits:
        for kind in KINDS:
            if (visit.pk, visit.sequence, f"reminder-{kind}") in written:
                continue
            due_at = reminder_at(visit, kind, hour=hour)
            heard = told.get(visit.pk) or visit.booked_at
            if heard < due_at <= now < useless_from(visit, kind):
                made += visit_reminder.write(visit=visit, kind=kind, now=now) is not None
    return made


def write_daily_lists(now: datetime) -> int:
    """Today's list of late promises for whoever minds the office, and the owner's old ones."""
    day = company_day(now)
    late = [user for user in overdue_list.readers() if overdue_list.has_late_promises(user, on=day)]
    return sum(overdue_list.write(user=user, day=day, now=now) is not None for user in late)


def write_weekly_lists(now: datetime) -> int:
    """What ends, to the owner and to whoever holds it."""
    day = company_day(now)
    people = licences_ending.readers(on=day)
    return sum(licences_ending.write(user=user, day=day, now=now) is not None for user in people)


def write_due_letters(now: datetime) -> int:
    """One letter for everything that falls due at a customer's houses, four weeks apart."""
    day = company_day(now)
    sites = due_work.due_soon(on=day).order_by().values("site")
    holders = SiteTenure.objects.at(day).filter(is_contact=True, site__in=sites)
    recent = OutboxMail.objects.filter(template=due_work.KIND.name, created_at__gt=now - LETTER_GAP)
    customers = (
        Customer.objects.filter(pk__in=holders.values("customer"), mail_wanted=True)
        .exclude(email="")
        .exclude(mail_state=Customer.MailState.REFUSED)
        .exclude(pk__in=recent.values("customer"))
        .order_by("pk")[:LETTERS_A_SCAN]
    )
    letters = [due_work.write(customer=row, day=day, now=now) for row in customers]
    return sum(letter is not None for letter in letters)


def _told_at(visits: list[Visit]) -> dict[int, datetime]:
    """When each customer was last told the time by mail."""
    telling = OutboxMail.objects.filter(visit__in=visits, template__in=TELLING_THE_TIME)
    rows = telling.order_by().values("visit").annotate(told_at=Max("created_at"))
    return {row["visit"]: row["told_at"] for row in rows}


def _written(visits: list[Visit]) -> set[tuple[int, int, str]]:
    rows = OutboxMail.objects.filter(visit__in=visits, template=visit_reminder.KIND.name)
    return {
        (context["visit"], context["sequence"], context["kind"])
        for context in rows.values_list("context", flat=True)
    }
