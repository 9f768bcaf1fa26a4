"""The look at the truth just before a message leaves: does it still hold?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User

from jobs.models import Company, Customer, OutboxMail
from jobs.schedule.hours import next_allowed, zone_of

from .about import KINDS


@dataclass(frozen=True)
class NotNeeded:
    reason: str


@dataclass(frozen=True)
class NotYet:
    until: datetime


def objection(mail: OutboxMail, *, now: datetime) -> NotNeeded | NotYet | None:
    """Why the message must not leave now, None if it may."""
    if now >= mail.useful_until:
        return NotNeeded("Its time had passed before it could be sent.")
    if mail.mail_class == OutboxMail.MailClass.STAFF:
        reason = _staff_objection(mail) or KINDS[mail.template].objection(mail, now)
        return NotNeeded(reason) if reason else None
    reason = _customer_objection(mail) or KINDS[mail.template].objection(mail, now)
    if reason:
        return NotNeeded(reason)
    return _outside_hours(mail, now)


def current_address(mail: OutboxMail) -> str:
    """Where the message goes today; an address that was corrected meanwhile is used."""
    if mail.customer_id:
        return Customer.objects.values_list("email", flat=True).get(pk=mail.customer_id)
    return User.objects.values_list("email", flat=True).get(pk=mail.context["user"])


def _outside_hours(mail: OutboxMail, now: datetime) -> NotNeeded | NotYet | None:
    site = mail.visit.job.site if mail.visit else None
    earliest = next_allowed(now, zone=zone_of(site), company=Company.load())
    if earliest <= now:
        return None
    if earliest >= mail.useful_until:
        return NotNeeded("It would have arrived at night and be of no use in the morning.")
    return NotYet(earliest)


def _staff_objection(mail: OutboxMail) -> str:
    user = User.objects.get(pk=mail.context["user"])
    if not user.is_active:
        return "The account is closed."
    return "" if user.email else "The account has no address."


def _customer_objection(mail: OutboxMail) -> str:
    assert mail.customer_id is not None
    customer = Customer.objects.get(pk=mail.customer_id)
    if not customer.email:
        return "The customer has no address any more."
    if not customer.mail_wanted:
        return "The customer wants no mail about visits."
    if customer.mail_state == Customer.MailState.REFUSED:
        return "Mail to this address is refused: telephone instead."
    return ""
