"""The best openings as pages offer them: for a promise, for a visit to book, for one that moves."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.contrib.auth.models import User

from equipment.models import Site, Train
from jobs.forms.visits import MINUTES, WhenForm
from jobs.forms.waits import WaitsMixin
from jobs.models import Company, FollowUp, Job, Visit
from jobs.models.company import company_day
from jobs.schedule.free_times import technicians
from jobs.schedule.openings import Ask, Opening, best_openings
from jobs.schedule.waiting import first_day_of
from jobs.workflows.follow_up_booking import planned_by
from jobs.workflows.visit_doubts import Planned

#: days that are looked at where nothing says when
AHEAD = timedelta(days=14)


def of_promise(promise: FollowUp, people: list[User], now: datetime) -> list[Opening]:
    planned = planned_by(promise)
    ask = Ask(
        planned.site,
        planned.kind,
        promise.terms.minutes,
        promise.due_on,
        (promise.window_from, promise.window_until),
        planned.train,
        did_it=did_it(promise),
        promise=promise,
    )
    return best_openings(ask, people, now=now, company=Company.load())


def did_it(promise: FollowUp) -> User | None:
    """Who did the work a promise comes from."""
    return promise.from_visit.lead if promise.from_visit else None


def of_booking(
    form: WhenForm, site: Site, job: Job | None, promise: FollowUp | None, now: datetime
) -> list[Opening]:
    """For what the form says so far."""
    kind = job.kind if job else str(form["kind"].value())
    train = job.train if job else _chosen(form, site)
    return _offered(form, Planned(site, kind, train), promise, now)


def of_moving(form: WhenForm, visit: Visit, now: datetime) -> list[Opening]:
    """Other times for a visit: inside the window of the promise it carries."""
    job = visit.job
    promise = FollowUp.objects.filter(visit=visit).order_by("window_until").first()
    planned = Planned(job.site, job.kind, job.train, visit)
    found = _offered(form, planned, promise, now)
    now_at = visit.lead_id, visit.starts_at
    return [row for row in found if (row.person.pk, row.starts_at) != now_at]


def _chosen(form: WhenForm, site: Site) -> Train | None:
    typed = str(form["train"].value() or "")
    return Train.objects.filter(site=site, pk=typed).first() if typed.isdigit() else None


def _offered(
    form: WhenForm, planned: Planned, promise: FollowUp | None, now: datetime
) -> list[Opening]:
    today, moving, kind = company_day(now), planned.moving, planned.kind
    minutes = str(form["minutes"].value() or "")
    due_on = company_day(moving.starts_at) if moving else today
    window = (today, max(today, due_on) + AHEAD)
    if promise:
        due_on, window = promise.due_on, (promise.window_from, promise.window_until)
    not_before = _not_before(form, moving)
    if not_before and not_before > window[1]:
        window = (window[0], not_before + AHEAD)
    ask = Ask(
        planned.site,
        kind,
        int(minutes) if minutes.isdigit() and int(minutes) else MINUTES.get(Job.Kind(kind), 60),
        due_on,
        window,
        planned.train,
        moving=moving,
        did_it=did_it(promise) if promise else None,
        promise=promise,
        not_before=not_before,
    )
    return best_openings(ask, technicians(), now=now, company=Company.load())


def _not_before(form: WhenForm, moving: Visit | None) -> date | None:
    """What it waits for, as it is chosen on the page or stands."""
    if moving:
        return first_day_of(moving)
    first: date | None = form.first_day() if isinstance(form, WaitsMixin) else None
    return first
