"""The kit of the day: what a technician's phone carries to where there is no signal.

Own visits of today and tomorrow, as their technician may see them: the house with the telephone
numbers of its contacts and who has a key, what can hurt somebody there, the word left for whoever
comes next, and the open record.
No mail addresses, no notes of the office, nobody else's customers.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import date, datetime, timedelta, tzinfo
from typing import Any

from django.contrib.auth.models import User
from django.utils import timezone

from jobs.fieldwork.cautions import CAUTIONS
from jobs.fieldwork.facts import NUMBER, Facts
from jobs.fieldwork.facts_json import to_json
from jobs.models import ChecklistRecord, DoNotUse, SiteTenure, Visit
from jobs.models.company import company_day
from jobs.schedule.gate_codes import code_hours
from jobs.wording.names import person
from jobs.workflows.records import TO_BEGIN, to_begin

from .left_words import words_left
from .schedule import alerts_of

#: shape of the kit; a phone with another one fetches anew
SHAPE = 1
DAYS = 2

Said = dict[str, Any]


def visits_of_kit(user: User, *, now: datetime) -> list[Visit]:
    """Own standing visits of today and tomorrow, and the one that is still under way."""
    today = company_day(now)
    rows = Visit.objects.seen_by_technician(user, today=today).standing().with_job()
    found = {visit.pk: visit for day in days_of_kit(now) for visit in rows.on_day(day)}
    under_way = rows.filter(status__in=[Visit.Status.EN_ROUTE, Visit.Status.ON_SITE])
    found.update((visit.pk, visit) for visit in under_way)
    return sorted(found.values(), key=lambda visit: (visit.starts_at, visit.pk))


def days_of_kit(now: datetime) -> list[date]:
    return [company_day(now) + timedelta(days=ahead) for ahead in range(DAYS)]


def records_of_kit(
    visits: Iterable[Visit], user: User, *, now: datetime
) -> dict[int, ChecklistRecord]:
    """The open record of each job, or the one it gets when the phone begins it."""
    jobs = {visit.job_id: visit.job for visit in visits if visit.is_to_come}
    found = open_records(visits)
    closed = ChecklistRecord.objects.filter(job__in=jobs.keys() - found.keys())
    done = set(closed.values_list("job_id", flat=True))
    for pk, job in jobs.items():
        if pk not in found and pk not in done and (record := to_begin(job=job, by=user, now=now)):
            found[pk] = record
    return found


def is_begun(record: ChecklistRecord) -> bool:
    return record.pk < TO_BEGIN


def open_records(visits: Iterable[Visit]) -> dict[int, ChecklistRecord]:
    rows = ChecklistRecord.objects.filter(
        job__in={visit.job_id for visit in visits}, closed_at=None
    )
    read = rows.select_related("job__site", "job__customer", "site", "train", "template")
    return {record.job_id: record for record in read}


def cards_of_kit(visits: list[Visit], *, now: datetime) -> dict[int, Said]:
    """What is read at the gate, by visit, in a fixed number of queries."""
    sites = {visit.job.site_id for visit in visits}
    alerts, left = alerts_of(sites), words_left({visit.job_id for visit in visits})
    notices = DoNotUse.objects.standing().by_house(sites)
    contacts = contacts_at(sites)
    return {
        visit.pk: {
            "street": visit.job.site.street,
            "town": visit.job.site.town,
            **_customer(visit),
            "contacts": [_contact(row) for row in contacts.get(visit.job.site_id, [])],
            "kind": visit.job.get_kind_display(),
            "starts_at": visit.starts_at.isoformat(),
            "arrive_from": visit.arrive_from.isoformat(),
            "arrive_until": visit.arrive_until.isoformat(),
            "status": visit.status,
            "access": visit.job.site.access_notes,
            "hazards": visit.job.site.hazards,
            "cautions": alerts.get(visit.job.site_id, []),
            "notices": [
                {"title": row.get_level_display(), "text": row.reason}
                for row in notices.get(visit.job.site_id, [])
            ],
            "left": _left(left.get(visit.job_id)),
            "gate": gate_of(visit, now=now),
        }
        for visit in visits
    }


def _customer(visit: Visit) -> dict[str, str]:
    who = visit.job.customer
    phone = who.phone.as_e164 if who and who.phone else ""
    return {"name": who.name if who else "", "phone": phone}


def _contact(row: SiteTenure) -> Said:
    """Whom to call and who has a key."""
    return {
        "name": row.customer.name,
        "part": row.get_part_display(),
        "first": row.is_contact,
        "key": row.has_key,
        "phones": [[phone.as_e164, phone.as_national] for phone in row.customer.phones],
    }


def contacts_at(sites: Collection[int]) -> dict[int, list[SiteTenure]]:
    """Contacts of today by house, who is called first at the head, in one query."""
    found: dict[int, list[SiteTenure]] = {}
    rows = SiteTenure.objects.open().filter(site__in=sites).select_related("customer")
    for row in rows.order_by("-is_contact", "from_on", "pk"):
        found.setdefault(row.site_id, []).append(row)
    return found


def _left(visit: Visit | None) -> Said | None:
    if visit is None:
        return None
    return {
        "text": visit.outcome_note,
        "by": person(visit.lead),
        "on": company_day(visit.starts_at).isoformat(),
    }


def gate_of(visit: Visit, *, now: datetime) -> Said | None:
    """The code of today's gate with the hours in which it is shown; none before and after."""
    code, hours = visit.job.site.gate_code, code_hours(visit, now=now)
    if not code or hours is None:
        return None
    begins, ends = hours
    return {"code": code, "from": begins.isoformat(), "until": ends.isoformat()}


def facts_said(facts: Facts, zone: tzinfo) -> Said:
    """The facts of a record without its lines, which many records share."""
    said: Said = json.loads(to_json(facts, zone))
    del said["lines"]
    return said


def lines_said(facts: Facts, zone: tzinfo) -> list[Said]:
    said: list[Said] = json.loads(to_json(facts, zone))["lines"]
    return said


def kit_said(user: User, *, now: datetime, app: str, parts: Mapping[str, Any]) -> Said:
    """Everything; `parts` are the visits, checklists and pages."""
    return {
        "kit": SHAPE,
        "made": now.isoformat(),
        "user": user.pk,
        "app": app,
        "facts": NUMBER,
        "days": [day.isoformat() for day in days_of_kit(now)],
        "utc_offset_minutes": dict(_offsets(now)),
        "cautions": {key: [row.level, row.title, row.text] for key, row in CAUTIONS.items()},
        **parts,
    }


def _offsets(now: datetime) -> Iterator[tuple[str, int]]:
    for day in days_of_kit(now):
        moment = now + timedelta(days=(day - company_day(now)).days)
        offset = timezone.localtime(moment).utcoffset() or timedelta()
        yield day.isoformat(), offset // timedelta(minutes=1)
