"""Who knows of a visit as it stands: the three states, whom to call and what is read out."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils import timezone

from jobs.mail import words
from jobs.mail.recipients import contact_of_visit
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


def known_of(visit: Visit) -> Known:
    tellings = list(VisitTold.objects.filter(visit=visit).select_related("by", "lead"))
    now_told = [told for told in tellings if told.sequence == visit.sequence]
    if now_told:
        return _told(now_told[-1])
    if visit.is_only_held:
        return Known("not firm, nobody is told")
    letters = visit.mails.filter(mail_class=OutboxMail.MailClass.CUSTOMER).order_by("-pk")
    letter = letters.values_list("state", flat=True).first()
    return Known(
        "not told yet",
        why_not_told(contact_of_visit(visit), letter),
        believes=_believed(tellings[-1]) if tellings else "",
    )


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
        "holders": SiteTenure.objects.at(company_day(visit.starts_at)).of_site(visit.job.site_id),
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
    """What the form of the call begins with: the visit as it stands, the usual number."""
    contact = contact_of_visit(visit)
    phones = contact.phones if contact else []
    return {"sequence": visit.sequence, "number": phones[0].as_national if phones else ""}


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
