"""What is unlikely of a visit that is booked or moved: asked once, and done when somebody says yes.

What cannot be is refused in `held.py`; this is what may be meant.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import holidays
from django.utils import timezone

from equipment.models import Site, Train
from jobs.errors import Unlikely
from jobs.models import Company, Job, Visit
from jobs.models.company import company_day

from .held import Held, check

#: a day's work may end so long after the company's hours before anybody asks
EVENING = timedelta(hours=2)
SATURDAY = 5


@dataclass(frozen=True)
class Planned:
    """What a visit is for, and where; `moving` is the visit that is moved."""

    site: Site
    kind: str
    train: Train | None = None
    moving: Visit | None = None


def must_be_sure(*, held: Held, planned: Planned, agreed: str, now: datetime) -> None:
    """Ask what is unlikely and was not yet agreed to; `agreed` is what the page sent back.

    What cannot be is refused first: nobody is asked about that.
    """
    check(held, now=now, moving=planned.moving)
    known = set(agreed.split(","))
    doubts = doubts_of(held, planned)
    if any(code not in known for code, _ in doubts):
        raise Unlikely("Look twice: this is unlikely, and may be meant.", doubts=doubts)


def doubts_of(held: Held, planned: Planned) -> list[tuple[str, str]]:
    """A code and a sentence for each; the code names the day, so that a yes is to that day."""
    if planned.moving and planned.moving.starts_at == held.starts_at:
        return []
    return [
        *_of_day(held),
        *_of_hours(held),
        *_of_house(held, planned),
        *([] if planned.moving else _of_start_up(planned)),
    ]


def _of_day(held: Held) -> list[tuple[str, str]]:
    day = company_day(held.starts_at)
    holiday = holidays.country_holidays("US", years=day.year).get(day)
    if holiday:
        return [(f"day-{day}", f"{day:%A %-d %B %Y} is a holiday: {holiday}.")]
    if day.weekday() >= SATURDAY:
        return [(f"day-{day}", f"{day:%-d %B %Y} is a {day:%A}.")]
    return []


def _of_hours(held: Held) -> list[tuple[str, str]]:
    company = Company.load()
    begins, ends = timezone.localtime(held.starts_at), timezone.localtime(held.ends_at)
    closes = begins.replace(hour=0, minute=0) + timedelta(hours=company.work_until_hour)
    if company.work_from_hour <= begins.hour < company.work_until_hour and ends <= closes + EVENING:
        return []
    return [
        (
            f"hours-{begins:%H:%M}-{ends:%H:%M}",
            f"{begins:%H:%M} to {ends:%H:%M} is outside the working hours, "
            f"{company.work_from_hour}:00 to {company.work_until_hour}:00.",
        )
    ]


def _of_house(held: Held, planned: Planned) -> list[tuple[str, str]]:
    day = company_day(held.starts_at)
    others = Visit.objects.on_day(day).standing().filter(job__site=planned.site)
    if planned.moving:
        others = others.exclude(pk=planned.moving.pk)
    return [
        (
            f"visit-{other.pk}-{day}",
            f"This house has a visit that day already: {other.job.get_kind_display()}, "
            f"{timezone.localtime(other.starts_at):%H:%M}, {other.lead.get_full_name()}.",
        )
        for other in others.with_job()
    ]


def _of_start_up(planned: Planned) -> list[tuple[str, str]]:
    if planned.kind != Job.Kind.STARTUP:
        return []
    if planned.train is None:
        return [("no-system", "A start-up without a system: none of this house is chosen.")]
    if not planned.train.wells.exists():
        return [("no-well", "A start-up without a well: none is on file for this system.")]
    return []
