"""One function for each message. Each writes one row in the caller's transaction, once.

A customer without a usable address gets nothing: the function returns None.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Literal
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib.auth.models import User

from equipment.models import Site
from jobs.models import (
    ChecklistRecord,
    Company,
    Customer,
    OutboxMail,
    Visit,
)
from jobs.models.company import company_day
from jobs.models.visits import day_start
from jobs.schedule.hours import hour_of_day, next_allowed, zone_of

from .recipients import contact_of_site, contact_of_visit

#: nobody tries longer to deliver a message that does not say how long it is of use
LONGEST_TRY = timedelta(days=5)
REMINDER_DAYS = {"week": 7, "day": 1}
#: a letter a week ahead is of no use close to the visit
USELESS_BEFORE = {"week": timedelta(days=2), "day": timedelta(0)}
INVITATION_DAYS = 3
#: somebody who keeps asking for another password link fills one mailbox at most so often
RESET_SLOT = timedelta(minutes=5)
RESETS_A_DAY = 5

ReminderKind = Literal["week", "day"]


@dataclass(frozen=True)
class Letter:
    """A message before anybody's name is on it: what it says, and from when until when."""

    key: str
    template: str
    context: dict[str, int | str]
    useful_until: datetime
    not_before: datetime | None = None
    visit: Visit | None = None


def visit_confirmation(*, visit: Visit, now: datetime) -> OutboxMail | None:
    return _about_visit(visit, "confirmation", "visit_confirmation", now=now)


def visit_moved(*, visit: Visit, now: datetime) -> OutboxMail | None:
    """For the new time; `visit.sequence` has been raised by whoever moved it."""
    return _about_visit(visit, "moved", "visit_moved", now=now)


def visit_cancelled(*, visit: Visit, now: datetime) -> OutboxMail | None:
    return _about_visit(visit, "cancelled", "visit_cancelled", now=now)


def visit_reminder(*, visit: Visit, kind: ReminderKind, now: datetime) -> OutboxMail | None:
    return _about_visit(
        visit,
        f"reminder-{kind}",
        "visit_reminder",
        now=now,
        not_before=reminder_at(visit, kind, hour=Company.load().mail_from_hour),
        useful_until=visit.arrive_from - USELESS_BEFORE[kind],
    )


def reminder_at(visit: Visit, kind: ReminderKind, *, hour: int) -> datetime:
    """When a reminder is due: the first mail hour of that day at the house."""
    zone = zone_of(visit.job.site)
    day = visit.arrive_from.astimezone(zone).date() - timedelta(days=REMINDER_DAYS[kind])
    return hour_of_day(day, hour, zone=zone)


def no_access_letter(*, visit: Visit, now: datetime) -> OutboxMail | None:
    """We stood at the door: please call for another time."""
    return _about_visit(
        visit, "no-access", "no_access", now=now, useful_until=now + timedelta(days=3)
    )


def record_summary(*, record: ChecklistRecord, now: datetime) -> OutboxMail | None:
    """What was done at the house, with the printed record; written as the record closes."""
    contact = contact_of_site(record.site_id, on=company_day(now)) or record.job.customer
    letter = Letter(
        f"record:{record.pk}:summary",
        "record_summary",
        {"record": record.pk, "site": record.site_id},
        useful_until=now + LONGEST_TRY,
    )
    return _to_customer(letter, customer=contact, site=record.site, now=now)


def due_work_letter(*, customer: Customer, day: date, now: datetime) -> OutboxMail | None:
    """What falls due at the customer's houses; one letter for all of it, one a month."""
    letter = Letter(
        f"letter:{day:%Y-%m}",
        "due_work",
        {"day": day.isoformat()},
        useful_until=now + timedelta(days=10),
    )
    return _to_customer(letter, customer=customer, site=None, now=now)


def overdue_list(*, user: User, day: date, now: datetime) -> OutboxMail | None:
    """The promises that are late, for a dispatcher or the owner, before the working day."""
    begin = hour_of_day(day, Company.load().work_from_hour, zone=zone_of(None))
    letter = Letter(
        f"overdue:{day.isoformat()}",
        "overdue_list",
        {"day": day.isoformat()},
        not_before=max(now, begin),
        useful_until=day_start(day + timedelta(days=1)),
    )
    return _to_staff(letter, user=user, now=now)


def customer_asks(*, visit: Visit, user: User, now: datetime) -> OutboxMail | None:
    """Tells the office that a customer wants another time or no visit."""
    asked = visit.move_asked_at or now
    letter = Letter(
        f"visit:{visit.pk}:{visit.sequence}:asked-{asked:%Y%m%dT%H%M%S}",
        "customer_asks",
        {"visit": visit.pk, "sequence": visit.sequence},
        useful_until=visit.arrive_until,
        visit=visit,
    )
    return _to_staff(letter, user=user, now=now)


def account_invitation(*, user: User, now: datetime) -> OutboxMail | None:
    letter = Letter(
        f"account:invitation:{_slot(now)}",
        "account_invitation",
        {},
        useful_until=now + timedelta(days=INVITATION_DAYS),
    )
    return _to_staff(letter, user=user, now=now)


def password_reset_mail(*, user: User, now: datetime) -> OutboxMail | None:
    asked = OutboxMail.objects.filter(template="password_reset", recipient=user.email)
    if asked.filter(created_at__gt=now - timedelta(days=1)).count() >= RESETS_A_DAY:
        return None
    letter = Letter(
        f"account:reset:{_slot(now)}",
        "password_reset",
        {},
        useful_until=now + timedelta(seconds=settings.PASSWORD_RESET_TIMEOUT),
    )
    return _to_staff(letter, user=user, now=now)


def message_id_of(key: str) -> str:
    """The same for every attempt, so that a mailbox can see that two are one."""
    digest = hashlib.sha256(key.encode()).hexdigest()[:40]
    return f"<{digest}@{urlsplit(settings.SITE_URL).hostname}>"


def _about_visit(
    visit: Visit,
    kind: str,
    template: str,
    *,
    now: datetime,
    not_before: datetime | None = None,
    useful_until: datetime | None = None,
) -> OutboxMail | None:
    letter = Letter(
        f"visit:{visit.pk}:{visit.sequence}:{kind}",
        template,
        {"visit": visit.pk, "sequence": visit.sequence, "kind": kind},
        not_before=not_before,
        useful_until=useful_until or visit.arrive_from,
        visit=visit,
    )
    return _to_customer(letter, customer=contact_of_visit(visit), site=visit.job.site, now=now)


def _to_customer(
    letter: Letter, *, customer: Customer | None, site: Site | None, now: datetime
) -> OutboxMail | None:
    if customer is None or not customer.can_be_mailed:
        return None
    wanted = max(now, letter.not_before or now)
    return _write(
        letter,
        key=f"{letter.key}:c{customer.pk}",
        mail_class=OutboxMail.MailClass.CUSTOMER,
        recipient=customer.email,
        customer=customer,
        context=letter.context,
        not_before=next_allowed(wanted, zone=zone_of(site), company=Company.load()),
        created_at=now,
    )


def _to_staff(letter: Letter, *, user: User, now: datetime) -> OutboxMail | None:
    if not user.is_active or not user.email:
        return None
    return _write(
        letter,
        key=f"{letter.key}:u{user.pk}",
        mail_class=OutboxMail.MailClass.STAFF,
        recipient=user.email,
        context=letter.context | {"user": user.pk},
        not_before=letter.not_before or now,
        created_at=now,
    )


def _write(letter: Letter, *, key: str, **fields: object) -> OutboxMail:
    row = {
        "message_id": message_id_of(key),
        "template": letter.template,
        "visit": letter.visit,
        "useful_until": letter.useful_until,
    }
    return OutboxMail.objects.get_or_create(key=key, defaults=row | fields)[0]


def _slot(now: datetime) -> str:
    """Asking twice within a few minutes is asking once."""
    seconds = int(RESET_SLOT.total_seconds())
    stamp = int(now.timestamp()) // seconds * seconds
    return f"{datetime.fromtimestamp(stamp, tz=UTC):%Y%m%d-%H%M}"
