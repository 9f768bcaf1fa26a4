"""From a letter to a row of the outbox, once for each key, in the transaction of its cause.

A customer without a usable address gets nothing, nor does a closed account: the answer is None.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib.auth.models import User

from equipment.models import Site
from jobs.models import Company, Customer, OutboxMail, Visit
from jobs.schedule.hours import next_allowed, zone_of

from .kind import Kind

#: nobody tries longer to deliver a message that does not say how long it is of use
LONGEST_TRY = timedelta(days=5)


@dataclass(frozen=True)
class Letter:
    """A message before anybody's name is on it: what it says, and from when until when."""

    key: str
    kind: Kind
    context: dict[str, int | str]
    useful_until: datetime
    not_before: datetime | None = None
    visit: Visit | None = None


def to_customer(
    letter: Letter, *, customer: Customer | None, site: Site | None, now: datetime
) -> OutboxMail | None:
    """In the hours of the house; `site` None means those of the company."""
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


def to_each(
    letter: Letter, *, people: Iterable[Customer], site: Site, now: datetime
) -> OutboxMail | None:
    """The same to several, each by name and once. The first of them; None: to nobody."""
    written = [to_customer(letter, customer=each, site=site, now=now) for each in people]
    return next((mail for mail in written if mail), None)


def to_staff(letter: Letter, *, user: User, now: datetime) -> OutboxMail | None:
    """At once, at any hour."""
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


def message_id_of(key: str) -> str:
    """The same for every attempt, so that a mailbox can see that two are one."""
    digest = hashlib.sha256(key.encode()).hexdigest()[:40]
    return f"<{digest}@{urlsplit(settings.SITE_URL).hostname}>"


def _write(letter: Letter, *, key: str, **fields: object) -> OutboxMail:
    row = {
        "message_id": message_id_of(key),
        "template": letter.kind.name,
        "visit": letter.visit,
        "useful_until": letter.useful_until,
    }
    return OutboxMail.objects.get_or_create(key=key, defaults=row | fields)[0]
