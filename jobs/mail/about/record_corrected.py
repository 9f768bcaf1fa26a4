"""To who is told of the water of the house: what changed in a record, with the new print."""

from __future__ import annotations

from datetime import datetime

from jobs.mail import standing
from jobs.mail.kind import Content, Kind
from jobs.mail.recipients import ToldOnes, told_of_water
from jobs.mail.visits import SOMEBODY_ELSE
from jobs.mail.writing import LONGEST_TRY, Letter, to_each
from jobs.models import Company, OutboxMail, RecordCorrection
from jobs.models.coming import again_after
from jobs.models.company import company_day
from jobs.schedule.hours import day_words, zone_of
from jobs.wording.names import person


def write(*, correction: RecordCorrection, now: datetime) -> OutboxMail | None:
    """As a closed record gets a newer version."""
    record = correction.record
    letter = Letter(
        f"record:{record.pk}:version:{correction.version}",
        KIND,
        {"correction": correction.pk, "record": record.pk, "site": record.site_id},
        useful_until=now + LONGEST_TRY,
    )
    return to_each(letter, people=_told(correction, now).people, site=record.site, now=now)


def _told(correction: RecordCorrection, now: datetime) -> ToldOnes:
    record = correction.record
    day, who_asked = company_day(now), record.job.customer
    return told_of_water(record.site_id, on=day, or_else=who_asked)


def _read(mail: OutboxMail) -> RecordCorrection:
    rows = RecordCorrection.objects.select_related("record__job", "record__site", "by")
    return rows.get(pk=mail.context["correction"])


def _objection(mail: OutboxMail, now: datetime) -> str:
    return "" if _told(_read(mail), now).has(mail.customer_id) else SOMEBODY_ELSE


def _content(mail: OutboxMail, company: Company) -> Content:
    correction = _read(mail)
    record = correction.record
    documents = list(record.documents.order_by("made_at", "pk"))
    document = documents[correction.version - 1]
    if document.shows_withdrawn:
        document = documents[-1]
    context = {
        "correction": correction,
        "site": record.site,
        "reason": _told(correction, mail.created_at).reason(mail.customer, record.site),
        "day": day_words(record.closed_at or record.opened_at, zone_of(record.site)),
        "who": person(correction.by),
        "again": [row.terms.name for row in again_after(record) if row.terms.job_kind],
        "notices": standing.notices_of(record.site_id),
    }
    return Content(context, documents=[("record.pdf", bytes(document.content))])


KIND = Kind(__name__, _content, _objection)
