"""The technician's day: today's visits, what is left open, what comes, and whom to call."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.access import allow
from jobs.fieldwork.facts import NUMBER
from jobs.http import StaffRequest
from jobs.models import ChecklistRecord, ChecklistTemplate, Company, DoNotUse, Phone, Visit
from jobs.models.company import company_day
from jobs.models.visits import day_start
from jobs.pages.left_words import words_left
from jobs.workflows.records import usual_purpose

from .shell import first_megabytes

DAYS_SHOWN = 7
#: so long its person reads what was lost with a phone
LOST_SAID = timedelta(days=7)


@allow("technician")
@require_safe
def my_day(request: StaffRequest) -> HttpResponse:
    now = timezone.now()
    today = company_day(now)
    visits = (
        Visit.objects.seen_by_technician(request.user, today=today)
        .standing()
        .with_job()
        .order_by("starts_at", "pk")
    )
    later = day_start(today + timedelta(days=1 + DAYS_SHOWN))
    rows = list(visits.filter(starts_at__lt=later))
    lost = Phone.objects.lost_since(now - LOST_SAID).filter(user=request.user, entries_lost__gt=0)
    context = day_context(rows, now=now, days_shown=DAYS_SHOWN) | {"phones_lost": lost}
    return render(request, "my_day.html", context)


def day_context(
    visits: list[Visit],
    *,
    now: datetime,
    days_shown: int,
    to_begin: Mapping[int, ChecklistRecord] | None = None,
) -> dict[str, object]:
    """These visits as the page has them: today's, those left open before, those ahead.

    `to_begin`: by job the record that a phone begins without signal.
    """
    today = company_day(now)
    begin, end = day_start(today), day_start(today + timedelta(days=1))
    cards = _cards(visits, to_begin or {})
    return {
        "today": today,
        "now": now,
        "company": Company.load(),
        "visits": [card for card in cards if begin <= card.visit.starts_at < end],
        "left_open": [
            card for card in cards if card.visit.starts_at < begin and card.visit.is_to_come
        ],
        "coming": [card for card in cards if card.visit.starts_at >= end],
        "days_shown": days_shown,
        "offline": first_megabytes(),
        "facts_number": NUMBER,
    }


@dataclass(frozen=True)
class Begins:
    """The record that goes with the kind of a job, and where it opens once it is begun."""

    purpose: str
    word: str
    url: str
    #: on a phone without signal: named before it is begun
    record: ChecklistRecord | None = None


def begins_of(visit: Visit, record: ChecklistRecord | None) -> Begins | None:
    purpose = usual_purpose(visit.job)
    if not purpose:
        return None
    if record:
        url = reverse("record-next", args=[record.pk])
    else:
        url = f"{reverse('record-open', args=[visit.job_id])}?purpose={purpose}"
    return Begins(purpose, str(ChecklistTemplate.Purpose(purpose).label), url, record)


@dataclass(frozen=True)
class Card:
    """One visit as its technician sees it."""

    visit: Visit
    record: ChecklistRecord | None
    notices: list[str]
    is_current: bool
    left: Visit | None = None
    to_begin: ChecklistRecord | None = None

    @property
    def state(self) -> str:
        if self.is_current:
            return "now"
        return "" if self.visit.is_to_come else "done"

    @property
    def may_arrive(self) -> bool:
        return self.visit.is_to_come and self.visit.status != Visit.Status.ON_SITE

    @property
    def record_url(self) -> str:
        if self.record is None:
            return ""
        name = "record-detail" if self.record.is_closed else "record-next"
        return reverse(name, args=[self.record.pk])

    @property
    def record_word(self) -> str:
        if self.record is None:
            return ""
        return "See the record" if self.record.is_closed else "Go on with the record"

    @property
    def begins(self) -> Begins | None:
        """What one press begins here; none where no record is usual, or one is begun."""
        if self.record or not self.visit.is_to_come:
            return None
        return begins_of(self.visit, self.to_begin)


def _cards(visits: list[Visit], to_begin: Mapping[int, ChecklistRecord]) -> list[Card]:
    """A row for each visit, with its record and the notices of the house: three queries more."""
    jobs = [visit.job_id for visit in visits]
    records: dict[int, ChecklistRecord] = {
        record.job_id: record
        for record in ChecklistRecord.objects.filter(job__in=jobs).select_related("template")
    }
    sites = {visit.job.site_id for visit in visits}
    notices = DoNotUse.objects.standing().by_house(sites)
    current, left = _current(visits), words_left(jobs)
    return [
        Card(
            visit,
            records.get(visit.job_id),
            [row.title_at(visit.job.site_id) for row in notices.get(visit.job.site_id, [])],
            is_current=visit == current,
            left=left.get(visit.job_id) if visit.is_to_come else None,
            to_begin=to_begin.get(visit.job_id),
        )
        for visit in visits
    ]


def _current(visits: list[Visit]) -> Visit | None:
    """The one somebody is on, or on the way to."""
    for status in (Visit.Status.ON_SITE, Visit.Status.EN_ROUTE):
        for visit in visits:
            if visit.status == status:
                return visit
    return None
