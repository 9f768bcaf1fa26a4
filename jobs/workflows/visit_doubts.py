"""What is unlikely of a visit that is booked or moved: asked once, and done when somebody says yes.

What cannot be is refused in `held.py`; this is what may be meant.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db.models import Q
from django.utils import timezone

from equipment.models import Site, Train
from jobs.errors import Unlikely
from jobs.models import Company, Job, Visit
from jobs.models.company import company_day
from jobs.schedule.driving import Driving, Place
from jobs.schedule.laboratory import SAMPLING, Laboratory
from jobs.schedule.needs import Needs
from jobs.schedule.working_days import SATURDAY, holiday_on
from jobs.schedule.working_time import Plan, Shift

from .held import Held, check

#: a day's work may end so long after the company's hours before anybody asks
EVENING = timedelta(hours=2)
TWO = 2


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
    moving = planned.moving
    if moving and moving.starts_at == held.starts_at:
        is_longer = held.ends_at > moving.ends_at
        known = set() if is_longer else {moving.lead_id, moving.helper_id}
        new = [person for person in _people(held) if person.pk not in known]
        laboratory = _of_laboratory(held, planned) if is_longer else []
        return [*_of_hours(held, new), *_of_driving(held, planned, new), *laboratory]
    return [
        *_of_day(held),
        *_of_hours(held, _people(held)),
        *_of_house(held, planned),
        *_of_driving(held, planned),
        *_of_laboratory(held, planned),
        *([] if moving else [*_of_start_up(planned), *_of_two(held, planned)]),
    ]


def _people(held: Held) -> list[User]:
    return [person for person in (held.lead, held.helper) if person]


def _of_day(held: Held) -> list[tuple[str, str]]:
    day = company_day(held.starts_at)
    if holiday := holiday_on(day):
        return [(f"day-{day}", f"{day:%A %-d %B %Y} is a holiday: {holiday}.")]
    if day.weekday() >= SATURDAY:
        return [(f"day-{day}", f"{day:%-d %B %Y} is a {day:%A}.")]
    return []


def _of_hours(held: Held, people: list[User]) -> list[tuple[str, str]]:
    """Outside the company's hours, or those of who comes; or at their lunch."""
    day = company_day(held.starts_at)
    plan, doubts = Plan.of(people, day, day), []
    for person in people:
        shift = plan.shift(person.pk, day)
        if shift is None and (day.weekday() >= SATURDAY or holiday_on(day, plan.own)):
            shift = plan.usual(day)  # the day itself was asked about
        doubts += _of_shift(held, person, shift, plan.company)
    # hours of the company are asked about once, however many come
    return list(dict(doubts).items())


def _of_shift(
    held: Held, person: User, shift: Shift | None, company: Company
) -> list[tuple[str, str]]:
    begins, ends = timezone.localtime(held.starts_at), timezone.localtime(held.ends_at)
    span, name = f"{begins:%H:%M} to {ends:%H:%M}", person.get_full_name()
    code = f"hours-{begins:%H:%M}-{ends:%H:%M}"
    if shift is None:
        return [(f"{code}-{person.pk}", f"{name} does not work on a {begins:%A}.")]
    if not shift.is_own and not shift.holds(held.starts_at, held.ends_at - EVENING):
        hours = f"{company.work_from_hour}:00 to {company.work_until_hour}:00"
        return [(code, f"{span} is outside the working hours, {hours}.")]
    if shift.is_own and not shift.holds(held.starts_at, held.ends_at):
        hours = f"{_clock(shift.starts_at)} to {_clock(shift.ends_at)}"
        said = f"{name} works from {hours} on a {begins:%A}: {span} is outside."
        return [(f"{code}-{person.pk}", said)]
    if shift.lunch and shift.lunch_in(held.starts_at, held.ends_at):
        lunch = f"{_clock(shift.lunch[0])} to {_clock(shift.lunch[1])}"
        said = f"{name} has lunch from {lunch}: {span} lies over it."
        return [(f"lunch-{code}-{person.pk}", said)]
    return []


def _clock(moment: datetime) -> str:
    return f"{timezone.localtime(moment):%H:%M}"


def _of_two(held: Held, planned: Planned) -> list[tuple[str, str]]:
    """Work of two people without a second one."""
    if held.helper or Needs.load().people(planned.kind) < TWO:
        return []
    return [
        ("two-people", f"{Job.Kind(planned.kind).label} takes two people: no helper is chosen.")
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


def _of_driving(
    held: Held, planned: Planned, people: list[User] | None = None
) -> list[tuple[str, str]]:
    """The drive from the visit before, or to the one after it, does not fit between the two."""
    people, day = _people(held) if people is None else people, company_day(held.starts_at)
    pks = [person.pk for person in people]
    others = Visit.objects.on_day(day).standing().with_job()
    others = others.filter(Q(lead__in=pks) | Q(helper__in=pks)).order_by("starts_at")
    if planned.moving:
        others = others.exclude(pk=planned.moving.pk)
    visits, here = list(others), Place.of(planned.site)
    if not visits:
        return []
    driving, doubts = Driving.load(), []
    for person in people:
        own = [visit for visit in visits if person.pk in (visit.lead_id, visit.helper_id)]
        for visit, gap in _next_to(held, own):
            drive = driving.between(Place.of(visit.job.site), here)
            if gap < timedelta(minutes=drive.minutes):
                span = f"{_clock(visit.starts_at)} to {_clock(visit.ends_at)}"
                begins = _clock(held.starts_at)
                doubts.append(
                    (
                        f"drive-{visit.pk}-{person.pk}-{day}-{begins}",
                        f"{person.get_full_name()} is at {visit.job.site} from {span}: "
                        f"{drive.said}, and {int(gap.total_seconds()) // 60} min are left for it.",
                    )
                )
    return doubts


def _next_to(held: Held, visits: list[Visit]) -> list[tuple[Visit, timedelta]]:
    """The visit before and the one after, each with the time between."""
    before = [visit for visit in visits if visit.ends_at <= held.starts_at]
    after = [visit for visit in visits if visit.starts_at >= held.ends_at]
    return [
        *((visit, held.starts_at - visit.ends_at) for visit in before[-1:]),
        *((visit, visit.starts_at - held.ends_at) for visit in after[:1]),
    ]


def _of_laboratory(held: Held, planned: Planned) -> list[tuple[str, str]]:
    """A sample that is taken then reaches the laboratory too late."""
    if planned.kind not in SAMPLING:
        return []
    laboratory = Laboratory.load(Company.load(), company_day(held.starts_at))
    why = laboratory.why_not(held.ends_at)
    taken = timezone.localtime(held.ends_at)
    return [(f"laboratory-{taken:%Y-%m-%d-%H:%M}", why)] if why else []


def _of_start_up(planned: Planned) -> list[tuple[str, str]]:
    if planned.kind != Job.Kind.STARTUP:
        return []
    if planned.train is None:
        return [("no-system", "A start-up without a system: none of this house is chosen.")]
    if not planned.train.wells.exists():
        return [("no-well", "A start-up without a well: none is on file for this system.")]
    return []
