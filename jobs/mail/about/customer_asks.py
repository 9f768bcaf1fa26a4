"""To the office: a customer wants another time or no visit."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User

from jobs.mail import links
from jobs.mail.kind import Content, Kind
from jobs.mail.visits import visit_of
from jobs.mail.writing import Letter, to_staff
from jobs.models import Company, OutboxMail, Visit
from jobs.schedule.hours import day_words, window_words, zone_of


def write(*, visit: Visit, user: User, now: datetime) -> OutboxMail | None:
    """Once for each asking."""
    asked = visit.move_asked_at or now
    letter = Letter(
        f"visit:{visit.pk}:{visit.sequence}:asked-{asked:%Y%m%dT%H%M%S}",
        KIND,
        {"visit": visit.pk, "sequence": visit.sequence},
        useful_until=visit.arrive_until,
        visit=visit,
    )
    return to_staff(letter, user=user, now=now)


def _objection(mail: OutboxMail, now: datetime) -> str:
    visit = visit_of(mail)
    if visit.move_asked_at is None or not visit.is_to_come:
        return "The question has been answered."
    return ""


def _content(mail: OutboxMail, company: Company) -> Content:
    visit = visit_of(mail)
    zone = zone_of(visit.job.site)
    return Content(
        {
            "visit": visit,
            "site": visit.job.site,
            "day": day_words(visit.arrive_from, zone),
            "window": window_words(visit.arrive_from, visit.arrive_until, zone),
            "visit_url": links.page_url("visit-detail", pk=visit.pk),
        }
    )


KIND = Kind(__name__, _content, _objection)
