"""The look at the truth just before a message leaves: does it still hold?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime

from django.contrib.auth.models import User

from jobs.models import ChecklistRecord, Company, Customer, OutboxMail, Visit
from jobs.models.company import company_day
from jobs.schedule.hours import next_allowed, zone_of

from .due_work import due_for_customer
from .overdue import has_late_promises
from .recipients import contact_of_site, contact_of_visit


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
        reason = _staff_objection(mail) or CHECKS[mail.template](mail, now)
        return NotNeeded(reason) if reason else None
    reason = _customer_objection(mail) or CHECKS[mail.template](mail, now)
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


def _visit_of(mail: OutboxMail) -> Visit:
    visits = Visit.objects.select_related("job__site", "job__customer")
    return visits.get(pk=mail.context["visit"])


def _visit_told(mail: OutboxMail, visit: Visit) -> str:
    if visit.sequence != mail.context["sequence"]:
        return "The visit has changed since; a newer message says so."
    contact = contact_of_visit(visit)
    if contact is None or contact.pk != mail.customer_id:
        return "Somebody else is the contact of the house now."
    return ""


def _visit_stands(mail: OutboxMail, now: datetime) -> str:
    visit = _visit_of(mail)
    if not visit.is_to_come or visit.status == Visit.Status.ON_SITE:
        return f"The visit is {visit.get_status_display()}."
    return _visit_told(mail, visit)


def _visit_is_cancelled(mail: OutboxMail, now: datetime) -> str:
    visit = _visit_of(mail)
    if visit.status != Visit.Status.CANCELLED:
        return f"The visit is {visit.get_status_display()}."
    return _visit_told(mail, visit)


def _nobody_was_there(mail: OutboxMail, now: datetime) -> str:
    visit = _visit_of(mail)
    if visit.job.visits.to_come().exists():
        return "Another visit is booked already."
    return _visit_told(mail, visit)


def _record_is_theirs(mail: OutboxMail, now: datetime) -> str:
    record = ChecklistRecord.objects.select_related("job").get(pk=mail.context["record"])
    contact = contact_of_site(record.site_id, on=company_day(now)) or record.job.customer
    if contact is None or contact.pk != mail.customer_id:
        return "Somebody else is the contact of the house now."
    return ""


def _work_is_due(mail: OutboxMail, now: datetime) -> str:
    day = date.fromisoformat(mail.context["day"])
    assert mail.customer is not None
    return "" if due_for_customer(mail.customer, on=day) else "Nothing of it is due any more."


def _promises_are_late(mail: OutboxMail, now: datetime) -> str:
    user = User.objects.get(pk=mail.context["user"])
    day = date.fromisoformat(mail.context["day"])
    return "" if has_late_promises(user, on=day) else "Nothing is late any more."


def _question_is_open(mail: OutboxMail, now: datetime) -> str:
    visit = _visit_of(mail)
    if visit.move_asked_at is None or not visit.is_to_come:
        return "The question has been answered."
    return ""


def _always(mail: OutboxMail, now: datetime) -> str:
    return ""


#: one look for each template; a new template without one is an error at its first sending
CHECKS: dict[str, Callable[[OutboxMail, datetime], str]] = {
    "visit_confirmation": _visit_stands,
    "visit_moved": _visit_stands,
    "visit_reminder": _visit_stands,
    "visit_cancelled": _visit_is_cancelled,
    "no_access": _nobody_was_there,
    "record_summary": _record_is_theirs,
    "due_work": _work_is_due,
    "overdue_list": _promises_are_late,
    "customer_asks": _question_is_open,
    "account_invitation": _always,
    "password_reset": _always,
}
