"""To who is told of visits to the house: day, hours or person are others than those they know."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from jobs.mail import visits
from jobs.mail.kind import Content, Kind
from jobs.models import Company, OutboxMail, Visit, VisitTold
from jobs.schedule.hours import clock_of, day_words, window_words


def write(*, visit: Visit, now: datetime, besides: Collection[int] = ()) -> OutboxMail | None:
    """For what it is now; `visit.sequence` has been raised by whoever changed it."""
    return visits.write_about(visit, KIND, "moved", now=now, besides=besides)


def _content(mail: OutboxMail, company: Company) -> Content:
    content = visits.invitation(mail, company)
    visit = visits.visit_of(mail)
    assert mail.customer is not None
    known = visits.tellings_to(visit, mail.customer).select_related("lead").last()
    changes = _changes(visit, known, mail.created_at) if known else {}
    is_news = known is None and not visits.was_heard_of(visit, mail.customer)
    content.context |= {
        "title": " and ".join(changes) or "Our visit has changed",
        "changes": list(changes.values()),
        "is_news": is_news,
    }
    return content


def _changes(visit: Visit, known: VisitTold, today: datetime) -> dict[str, str]:
    """What is other than they were told, each with what it was."""
    zone, changes = clock_of(visit), {}
    day_before, day = (day_words(row.arrive_from, zone, today=today) for row in (known, visit))
    hours_before, hours = (
        window_words(row.arrive_from, row.arrive_until, zone) for row in (known, visit)
    )
    if day_before != day:
        changes["New day"] = f"The day is another: before, it was {day_before}."
    if hours_before != hours:
        changes["New hours"] = f"The hours are others: before, they were {hours_before}."
    if known.lead_id != visit.lead_id:
        before = known.lead.get_full_name()
        changes["Another technician"] = f"{visit.lead.get_full_name()} comes instead of {before}."
    return changes


KIND = Kind(__name__, _content, visits.stands, tells_the_time=True, tells_the_visit=True)
