"""Who knows of a visit as it stands: the three states, whom to call and what is read out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from django.utils import timezone

from jobs.mail import words
from jobs.mail.recipients import told_of_visit
from jobs.models import Customer, OutboxMail, SiteTenure, Visit, VisitTold
from jobs.models.company import company_day
from jobs.schedule.hours import clock_of, day_words, window_words
from jobs.wording.names import person

State = OutboxMail.State


@dataclass(frozen=True)
class Known:
    """What a household knows of a visit: by mail, by telephone, or not yet."""

    name: str
    detail: str = ""
    is_told: bool = False
    #: what they believe instead, where they were told another time before
    believes: str = ""
    #: each who is told of visits, where there are several
    people: tuple[tuple[str, Known], ...] = ()


def known_of(visit: Visit, contacts: Iterable[SiteTenure] | None = None) -> Known:
    """What the house knows; it is told once each who is told of visits is.

    `contacts`: of that day, where they were read before.
    """
    people = told_of_visit(visit, contacts).people
    tellings = list(VisitTold.objects.filter(visit=visit).select_related("by", "lead"))
    letters = dict(
        visit.mails.filter(mail_class=OutboxMail.MailClass.CUSTOMER)
        .order_by("pk")
        .values_list("customer", "state")
    )
    each = {person: _known_to(visit, person, tellings, people[:1], letters) for person in people}
    if not each:
        return _known_to(visit, None, tellings, [], letters)
    untold = [known for known in each.values() if not known.is_told]
    whole = untold[0] if untold else list(each.values())[-1]
    named = tuple((str(person), known) for person, known in each.items())
    return replace(whole, people=named if len(each) > 1 else ())


def _known_to(
    visit: Visit,
    customer: Customer | None,
    tellings: list[VisitTold],
    first: list[Customer],
    letters: Mapping[int, str],
) -> Known:
    """Where nobody is named, a telling counts for whoever is called first."""
    whose = {customer.pk if customer else None, *([None] if customer in first else [])}
    mine = [told for told in tellings if customer is None or told.customer_id in whose]
    now_told = [told for told in mine if told.sequence == visit.sequence]
    if now_told:
        return _told(now_told[-1])
    if visit.is_only_held:
        return Known("not firm, nobody is told")
    letter = letters.get(customer.pk) if customer else None
    believes = _believed(mine[-1]) if mine else ""
    return Known("not told yet", why_not_told(customer, letter), believes=believes)


def why_not_told(contact: Customer | None, letter: str | None) -> str:
    """Why no letter says it: nobody to write to, or what became of the newest letter."""
    if contact is None:
        return "nobody holds the house on file"
    if not contact.email:
        return "no mail address on file"
    if not contact.mail_wanted:
        return "wants no mail"
    if contact.mail_state == Customer.MailState.REFUSED:
        return "mail to this address is refused"
    return f"the letter: {State(letter).label}" if letter else "no letter was written"


def page_of(visit: Visit) -> dict[str, object]:
    """The call: numbers, words to read out, what was tried."""
    return {
        "visit": visit,
        "known": known_of(visit),
        "holders": SiteTenure.objects.at(company_day(visit.starts_at)).to_call(visit.job.site_id),
        "lines": lines_to_read(visit),
        "attempts": visit.attempts.select_related("by"),
        "letter": _in_doubt(visit),
    }


def _in_doubt(visit: Visit) -> OutboxMail | None:
    """The newest letter, where nobody knows whether it arrived."""
    letters = visit.mails.filter(mail_class=OutboxMail.MailClass.CUSTOMER)
    newest = letters.order_by("-pk").first()
    return newest if newest and newest.state == State.UNKNOWN else None


def begun_call(visit: Visit) -> dict[str, object]:
    """What the form of the call begins with: the visit, who is not told yet, the number."""
    contact = next(iter(untold_of(visit) or told_of_visit(visit).people), None)
    phones = contact.phones if contact else []
    return {
        "sequence": visit.sequence,
        "customer": contact.pk if contact else "",
        "number": phones[0].as_national if phones else "",
    }


def untold_of(visit: Visit) -> list[Customer]:
    """Who is told of visits and does not know how this one stands."""
    known = dict(known_of(visit).people)
    return [
        each
        for each in told_of_visit(visit).people
        if str(each) in known and not known[str(each)].is_told
    ]


def lines_to_read(visit: Visit) -> list[str]:
    """The letter, as it is said on the telephone."""
    site, zone = visit.job.site, clock_of(visit)
    when = (
        f"{day_words(visit.arrive_from, zone, today=timezone.now())}, "
        f"{window_words(visit.arrive_from, visit.arrive_until, zone)}"
    )
    if visit.status == Visit.Status.CANCELLED:
        return [
            f"Our visit on {when}, at {site.street}, {site.town}, is cancelled. We do not come.",
            "Would you please say back to me that nobody comes?",
        ]
    lines = [
        f"We come on {when}, to {site.street}, {site.town}.",
        f"{person(visit.lead)} comes {words.PURPOSES[visit.job.kind]}.",
        words.PREPARE,
        words.WATER.get(visit.job.kind, ""),
        "Would you please say the day and the hours back to me?",
    ]
    return [line for line in lines if line]


def _told(told: VisitTold) -> Known:
    at = f"{timezone.localtime(told.at):%-d %B %Y, %H:%M}"
    if told.how == VisitTold.How.TELEPHONE:
        return Known(
            "told by telephone", f"{told.whom}, {told.number}, by {person(told.by)}, {at}", True
        )
    if told.how == VisitTold.How.STILL:
        return Known("told", f"as it stands again since {at}; nothing else was written", True)
    if told.by:
        return Known("told by mail", f"seen, says {person(told.by)}, {at}", True)
    said = "sent" if told.how == VisitTold.How.MAIL else "answered"
    return Known("told by mail", f"{said} {at}", True)


def _believed(told: VisitTold) -> str:
    begins, ends = (timezone.localtime(at) for at in (told.arrive_from, told.arrive_until))
    return f"{begins:%A %-d %B %Y, %H:%M} to {ends:%H:%M}, {person(told.lead)}"
