"""To the office: a customer wants another time or no visit."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User

from jobs.mail import links
from jobs.mail.kind import Content, Kind
from jobs.mail.writing import Letter, to_staff
from jobs.models import Company, OutboxMail, VisitRequest
from jobs.schedule.hours import clock_of, day_words, window_words
from jobs.wording.names import sentence


def write(*, request: VisitRequest, user: User, now: datetime) -> OutboxMail | None:
    """Once for each request."""
    visit = request.visit
    letter = Letter(
        f"visit:{visit.pk}:request-{request.pk}",
        KIND,
        {"visit": visit.pk, "request": request.pk},
        useful_until=visit.arrive_until,
        visit=visit,
    )
    return to_staff(letter, user=user, now=now)


def _request_of(mail: OutboxMail) -> VisitRequest:
    rows = VisitRequest.objects.select_related("visit__job__site")
    return rows.get(pk=mail.context["request"])


def _objection(mail: OutboxMail, now: datetime) -> str:
    request = _request_of(mail)
    if request.handled_at:
        return "The request has been handled."
    return "" if request.visit.is_to_come else "The visit is over."


def _content(mail: OutboxMail, company: Company) -> Content:
    request = _request_of(mail)
    visit, site = request.visit, request.visit.job.site
    zone = clock_of(visit)
    return Content(
        {
            "request": request,
            "said": sentence(request.said),
            "site": site,
            "day": day_words(visit.arrive_from, zone),
            "window": window_words(visit.arrive_from, visit.arrive_until, zone),
            "requests_url": links.page_url("visit-requests", pk=visit.pk),
        }
    )


KIND = Kind(__name__, _content, _objection)
