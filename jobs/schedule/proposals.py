"""Times to offer a caller, each with its reasons in words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.contrib.auth.models import User
from django.utils import timezone

from equipment.models import Site, Train
from jobs.models import Company, FollowUp, Visit
from jobs.models.company import company_day
from jobs.models.visits import day_start
from jobs.wording.days import short_day

from .free_times import FreeTime, nearest, technicians
from .needs import Needs
from .working_days import add_working_days

#: how far ahead times are looked for
DAYS_AHEAD = 21


@dataclass(frozen=True)
class Wish:
    """Work somebody calls for."""

    site: Site | None
    kind: str
    minutes: int
    train: Train | None = None
    #: promises that would be kept on the same visit
    along: tuple[FollowUp, ...] = ()
    #: somebody may be hurt: today
    is_urgent: bool = False


@dataclass(frozen=True)
class Proposal:
    """A time of one person, and why this one."""

    time: FreeTime
    reasons: tuple[str, ...]

    @property
    def value(self) -> str:
        return self.time.value


def proposals(wish: Wish, *, now: datetime, count: int = 3) -> list[Proposal]:
    """The times to offer for this work, best first; the one place that chooses them."""
    today, needs = company_day(now), Needs.load()
    people = [
        person
        for person in technicians()
        if not needs.lacking(wish.kind, [person.pk], today + timedelta(days=DAYS_AHEAD))
    ]
    last = _last_here(wish, people)
    found = nearest(
        first_choice=last.lead if last and not wish.is_urgent else None,
        people=people,
        minutes=wish.minutes,
        due_on=_wanted_on(wish, today),
        window=(today, today + timedelta(days=DAYS_AHEAD)),
        now=now,
        company=Company.load(),
        count=count,
    )
    if not found:
        return []
    if last is None or wish.is_urgent:
        found = sorted(found, key=lambda time: time.starts_at)
    near = _near_by(wish, found)
    soonest = min(time.starts_at for time in found)
    return [
        Proposal(time, _reasons(wish, time, needs, last, near, is_first=time.starts_at == soonest))
        for time in found
    ]


def _wanted_on(wish: Wish, today: date) -> date:
    """Today where somebody may be hurt, else the day a promise is due, else the next one."""
    if wish.is_urgent:
        return today
    due = [row.due_on for row in wish.along if row.due_on > today]
    return min(due) if due else add_working_days(today, 1)


def _last_here(wish: Wish, people: list[User]) -> Visit | None:
    """The newest work here of somebody who can come."""
    if wish.site is None:
        return None
    rows = Visit.objects.filter(job__site=wish.site, status=Visit.Status.CLOSED)
    if wish.train:
        rows = rows.filter(job__train=wish.train)
    return rows.filter(lead__in=people).with_job().order_by("-starts_at").first()


def _near_by(wish: Wish, found: list[FreeTime]) -> dict[tuple[int, date], Visit]:
    """Visits of these people in the same town on these days, one query."""
    if wish.site is None:
        return {}
    days = [company_day(time.starts_at) for time in found]
    rows = Visit.objects.standing().filter(
        lead__in=[time.person for time in found],
        job__site__town=wish.site.town,
        starts_at__gte=day_start(min(days)),
        starts_at__lt=day_start(max(days) + timedelta(days=1)),
    )
    return {
        (row.lead_id, company_day(row.starts_at)): row
        for row in rows.with_job().order_by("-starts_at")
    }


def _reasons(
    wish: Wish,
    time: FreeTime,
    needs: Needs,
    last: Visit | None,
    near: dict[tuple[int, date], Visit],
    *,
    is_first: bool,
) -> tuple[str, ...]:
    day = company_day(time.starts_at)
    said = []
    if last and last.lead_id == time.person.pk:
        on = short_day(company_day(last.starts_at), day)
        said.append(f"was here last, {on}: {last.job.short_kind.lower()}")
    if other := near.get((time.person.pk, day)):
        at = f"{timezone.localtime(other.starts_at):%H:%M}"
        here = wish.site and other.job.site_id == wish.site.pk
        said.append(f"is {'at this house' if here else f'in {other.job.site.town}'} that day, {at}")
    if licence := needs.licences.get(wish.kind):
        said.append(f"has “{licence}”")
    if kept := [row for row in wish.along if row.window_from <= day <= row.window_until]:
        names = ", ".join(row.terms.name[:1].lower() + row.terms.name[1:] for row in kept)
        said.append(f"inside the window of: {names}")
    if is_first:
        said.append("the soonest, because of what was told" if wish.is_urgent else "the soonest")
    return tuple(said or ["free for all of it"])
