"""What letters about a visit share: one for each change of it, to each who is told of visits."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from django.db.models import Q, QuerySet

from equipment.models import Stage
from jobs.models import Company, Customer, OutboxMail, Visit, VisitTold
from jobs.schedule.hours import clock_of, day_words, window_words

from . import links, standing, words
from .calendar import Method, visit_calendar
from .kind import Content, Kind
from .recipients import told_of_visit
from .sender import sender_address
from .writing import Letter, to_each

SOMEBODY_ELSE = "Somebody else is told at this house now."


def write_about(
    visit: Visit,
    kind: Kind,
    turn: str,
    *,
    now: datetime,
    not_before: datetime | None = None,
    useful_until: datetime | None = None,
    besides: Collection[int] = (),
) -> OutboxMail | None:
    """Once for each `turn` of this time of the visit; of use until the customer expects us.

    To each who is told of visits, by name, but for the customers `besides`, who know it. The first
    of these letters; None: nobody could be written to.
    """
    letter = Letter(
        f"visit:{visit.pk}:{visit.sequence}:{turn}",
        kind,
        {
            "visit": visit.pk,
            "sequence": visit.sequence,
            "kind": turn,
            "from": visit.arrive_from.isoformat(),
            "until": visit.arrive_until.isoformat(),
            "lead": visit.lead_id,
        },
        not_before=not_before,
        useful_until=useful_until or visit.arrive_from,
        visit=visit,
    )
    people = [each for each in told_of_visit(visit).people if each.pk not in besides]
    return to_each(letter, people=people, site=visit.job.site, now=now)


def visit_of(mail: OutboxMail) -> Visit:
    return Visit.objects.with_job().get(pk=mail.context["visit"])


def told(mail: OutboxMail, visit: Visit) -> str:
    """The objection to a letter about a visit that has changed, or whose house has."""
    if visit.sequence != mail.context["sequence"]:
        return "The visit has changed since; a newer message says so."
    return "" if told_of_visit(visit).has(mail.customer_id) else SOMEBODY_ELSE


def tellings_to(visit: Visit, customer: Customer) -> QuerySet[VisitTold]:
    """What this person was told; where nobody is named it counts for whoever is called first."""
    whose = Q(customer=customer)
    if [each.pk for each in told_of_visit(visit).people[:1]] == [customer.pk]:
        whose |= Q(customer=None)
    return VisitTold.objects.filter(whose, visit=visit)


def was_heard_of(visit: Visit, customer: Customer) -> bool:
    """They were told of it, or a letter about it went to them and may have arrived."""
    went = [OutboxMail.State.SENT, OutboxMail.State.UNKNOWN, OutboxMail.State.SENDING]
    letters = OutboxMail.objects.filter(visit=visit, customer=customer, state__in=went)
    return letters.exists() or tellings_to(visit, customer).exists()


def stands(mail: OutboxMail, now: datetime) -> str:
    """The objection to a letter about a visit that is to come."""
    visit = visit_of(mail)
    if not visit.is_to_come or visit.status == Visit.Status.ON_SITE:
        return f"The visit is {visit.get_status_display()}."
    return told(mail, visit)


def invitation(mail: OutboxMail, company: Company) -> Content:
    """The visit with its calendar file, and a link to answer."""
    return _with_calendar(mail, company, "REQUEST")


def withdrawal(mail: OutboxMail, company: Company) -> Content:
    """The visit with the calendar file that takes it out again."""
    return _with_calendar(mail, company, "CANCEL")


def without_calendar(mail: OutboxMail, company: Company) -> Content:
    return Content(_context(mail, visit_of(mail)))


def _with_calendar(mail: OutboxMail, company: Company, method: Method) -> Content:
    visit = visit_of(mail)
    calendar = visit_calendar(
        visit,
        method=method,
        company=company,
        sender=sender_address(company),
        attendee=mail.recipient,
        purpose=words.PURPOSES[visit.job.kind],
        written_at=mail.created_at,
    )
    return Content(_context(mail, visit), calendar)


def _has_tanks(visit: Visit) -> bool:
    return Stage.objects.fitted().filter(train__site=visit.job.site_id).exists()


def _context(mail: OutboxMail, visit: Visit) -> dict[str, object]:
    assert mail.customer is not None
    kind, zone = visit.job.kind, clock_of(visit)
    claim = links.AnswerClaim(visit.pk, visit.sequence, mail.customer.pk)
    return {
        "visit": visit,
        "site": visit.job.site,
        "who": visit.lead.get_full_name(),
        "day": day_words(visit.arrive_from, zone, today=mail.created_at),
        "window": window_words(visit.arrive_from, visit.arrive_until, zone),
        "purpose": words.PURPOSES[kind],
        "prepare": words.PREPARE if _has_tanks(visit) else words.PREPARE_THE_WELL,
        "water": words.WATER.get(kind, ""),
        "why": words.REASONS.get(kind, ""),
        "notices": standing.notices_of(visit.job.site_id),
        "reason": told_of_visit(visit).reason(mail.customer, visit.job.site),
        "answer_url": links.answer_url(claim),
    }
