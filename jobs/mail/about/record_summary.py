"""To the contact of the house: what was done there, with the printed record."""

from __future__ import annotations

from datetime import datetime

from equipment.models import Stage
from jobs.fieldwork.cautions import DEFERS
from jobs.mail import standing, words
from jobs.mail.kind import Content, Kind
from jobs.mail.recipients import contact_of_site
from jobs.mail.visits import SOMEBODY_ELSE
from jobs.mail.writing import LONGEST_TRY, Letter, to_customer
from jobs.models import (
    ChecklistRecord,
    Company,
    Customer,
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
    return to_customer(letter, customer=_contact(record, now), site=record.site, now=now)


def _contact(record: ChecklistRecord, now: datetime) -> Customer | None:
    return contact_of_site(record.site_id, on=company_day(now)) or record.job.customer


def _objection(mail: OutboxMail, now: datetime) -> str:
    record = ChecklistRecord.objects.select_related("job").get(pk=mail.context["record"])
    contact = _contact(record, now)
    return "" if contact and contact.pk == mail.customer_id else SOMEBODY_ELSE


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
