"""To who is told of the water of the house: what was done there, with the printed record."""

from __future__ import annotations

from datetime import datetime

from equipment.models import Stage
from jobs.fieldwork.cautions import DEFERS
from jobs.mail import standing, words
from jobs.mail.kind import Content, Kind
from jobs.mail.recipients import ToldOnes, told_of_water
from jobs.mail.visits import SOMEBODY_ELSE
from jobs.mail.writing import LONGEST_TRY, Letter, to_each
from jobs.models import (
    ChecklistRecord,
    Company,
    OutboxMail,
)
from jobs.models.coming import coming_after
from jobs.models.company import company_day
from jobs.schedule.hours import day_words, zone_of

#: lines of the near future that the letter names
NEXT_SHOWN = 4


def write(*, record: ChecklistRecord, now: datetime) -> OutboxMail | None:
    """As the record closes."""
    letter = Letter(
        f"record:{record.pk}:summary",
        KIND,
        {"record": record.pk, "site": record.site_id},
        useful_until=now + LONGEST_TRY,
    )
    return to_each(letter, people=_told(record, now).people, site=record.site, now=now)


def _told(record: ChecklistRecord, now: datetime) -> ToldOnes:
    day, who_asked = company_day(now), record.job.customer
    return told_of_water(record.site_id, on=day, or_else=who_asked)


def _objection(mail: OutboxMail, now: datetime) -> str:
    record = ChecklistRecord.objects.select_related("job").get(pk=mail.context["record"])
    return "" if _told(record, now).has(mail.customer_id) else SOMEBODY_ELSE


def _content(mail: OutboxMail, company: Company) -> Content:
    records = ChecklistRecord.objects.select_related("template", "site", "closed_in__job")
    record = records.get(pk=mail.context["record"])
    document = record.documents.order_by("-made_at", "-pk").first()
    if document is None:
        raise LookupError(f"The record {record.pk} has no printed document.")
    with_pump = Stage.objects.fitted().filter(train=record.train_id, kind=Stage.Kind.FEEDER)
    context = {
        "record": record,
        "site": record.site,
        "reason": _told(record, mail.created_at).reason(mail.customer, record.site),
        "title": document.title,
        "day": day_words(record.closed_at or record.opened_at, zone_of(record.site)),
        "notices": standing.notices_of(record.site_id),
        "cautions": words.HOUSEHOLD_CAUTIONS if with_pump else words.HOUSEHOLD_CAUTIONS[-1:],
        "defers": DEFERS,
        "coming": _coming(record),
    }
    return Content(context, documents=[("record.pdf", bytes(document.content))])


def _coming(record: ChecklistRecord) -> list[str]:
    """Two tanks of one day are one line."""
    coming = coming_after(record.closed_in, site=record.site_id)
    return list(dict.fromkeys(words.about_when(row) for row in coming))[:NEXT_SHOWN]


KIND = Kind(__name__, _content, _objection)
