"""What a customer answers through the signed link of a mail, without an account."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from jobs.errors import BadEntry, JobsError
from jobs.mail.about import visit_confirmation
from jobs.mail.links import AnswerClaim, read_answer_token, read_stop_token
from jobs.mail.recipients import told_of_visit
from jobs.models import Customer, Visit, VisitRequest
from jobs.schedule.waiting import State, waiting_of

from .log import log
from .requests import ask
from .telling import told_by_answer

NOTE_LENGTH = 200
YES = "confirm"


class LinkEnded(JobsError):
    """The link opens nothing (any more). Says nothing about whether it ever did."""


@dataclass(frozen=True)
class OpenLink:
    visit: Visit
    customer: Customer


def open_link(token: str, *, now: datetime) -> OpenLink:
    """The visit a link stands for, while it stands at that time and for that customer."""
    claim = read_answer_token(token)
    visit = _visit_of(claim) if claim else None
    if claim is None or visit is None:
        raise LinkEnded("This link is not complete. Open it from the mail again, or call us.")
    if now >= visit.arrive_until or visit.status not in (
        Visit.Status.REQUESTED,
        Visit.Status.TENTATIVE,
        Visit.Status.CONFIRMED,
        Visit.Status.EN_ROUTE,
    ):
        raise LinkEnded("This link has ended: the visit is over, under way or cancelled.")
    people = {each.pk: each for each in told_of_visit(visit).people}
    if visit.sequence != claim.sequence or claim.customer_id not in people:
        raise LinkEnded(
            "The visit has changed since this mail. Our newest mail has the right link."
        )
    return OpenLink(visit, people[claim.customer_id])


@transaction.atomic
def answer(*, token: str, choice: str, now: datetime, note: str = "") -> Visit:
    """Yes, another time, or no visit. The same answer again changes nothing."""
    link = open_link(token, now=now)
    if choice not in (YES, *VisitRequest.Kind.values):
        raise BadEntry("Choose one of the answers.", field="answer")
    note = " ".join(note.split())
    if len(note) > NOTE_LENGTH:
        raise BadEntry(f"At most {NOTE_LENGTH} characters, please.", field="note")
    visit = link.visit
    if choice == YES:
        if not visit.customer_confirmed_at:
            _keep(link, choice, now, now=now)
        return visit
    before = visit.requests.count()
    ask(visit=visit, kind=choice, note=note, now=now)
    if visit.requests.count() > before:
        _keep(link, choice, None, now=now)
    return visit


@transaction.atomic
def stop_mail(*, token: str, now: datetime) -> Customer:
    """No mail about visits to this customer any more; what waits is not sent."""
    customer = customer_of_stop(token)
    if customer.mail_wanted:
        customer.mail_wanted = False
        customer.save(update_fields=["mail_wanted"])
        log(verb="mail_stopped", subject=customer, by=None, now=now)
    return customer


def customer_of_stop(token: str) -> Customer:
    claimed = read_stop_token(token)
    customer = Customer.objects.filter(pk=claimed).first() if claimed else None
    if customer is None:
        raise LinkEnded("This link is not complete. Open it from the mail again, or call us.")
    return customer


def _visit_of(claim: AnswerClaim) -> Visit | None:
    return Visit.objects.with_job().filter(pk=claim.visit_id).first()


def _waits(visit: Visit, now: datetime) -> bool:
    """A yes is kept; it makes nothing firm that still waits for something."""
    waiting = waiting_of(visit, now)
    return waiting is not None and waiting.state != State.MET


def _keep(link: OpenLink, choice: str, confirmed_at: datetime | None, *, now: datetime) -> None:
    visit = link.visit
    changes: dict[str, datetime | str | None] = {"customer_confirmed_at": confirmed_at}
    if confirmed_at and visit.is_only_held and not _waits(visit, now):
        changes["status"] = Visit.Status.CONFIRMED  # held until somebody said yes
    still = Visit.objects.filter(
        pk=visit.pk, sequence=visit.sequence, status__in=Visit.TO_COME
    ).update(**changes)
    if not still:
        raise LinkEnded("The visit has changed just now. Our newest mail has the right link.")
    for name, value in changes.items():
        setattr(visit, name, value)
    if link.customer.mail_state != Customer.MailState.ARRIVES:
        link.customer.mail_state = Customer.MailState.ARRIVES  # an answer proves it
        link.customer.save(update_fields=["mail_state"])
    told_by_answer(visit=visit, customer=link.customer, now=now)
    if "status" in changes:
        visit_confirmation.write(visit=visit, now=now)
    log(verb=f"customer_{choice}", subject=visit, by=None, now=now, site=visit.job.site)
