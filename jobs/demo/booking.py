"""A visit of the demo from booking to end; what lies ahead of now stays booked."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from equipment.models import Stage
from jobs.models import FollowUp, Job, Visit
from jobs.models.company import company_day
from jobs.workflows.follow_up_booking import book_from
from jobs.workflows.held import Held
from jobs.workflows.jobs import Wanted, open_job
from jobs.workflows.visit_closing import Ending, close_visit
from jobs.workflows.visits import arrive, book_visit

from .calendar import USUAL_HOUR
from .cast import OFFICE_HOUR, House, Told, World

ARRIVES_AFTER, LEAVES_BEFORE = timedelta(minutes=4), timedelta(minutes=5)
BOOKED_DAYS_BEFORE = 4


def booked_at(world: World, act: Told) -> datetime:
    return world.calendar.moment(act["day"] - act.get("booked", BOOKED_DAYS_BEFORE), OFFICE_HOUR)


def job_for(world: World, house: House, act: Told, kind: str, **fields: Any) -> Job:
    now = booked_at(world, act)
    reported_on = fields.pop("reported_on", company_day(now))
    wanted = Wanted(kind, reported_on, act.get("symptom", ""), **fields)
    return open_job(site=house.site, train=house.train, wanted=wanted, by=world.office, now=now)


def booked(
    world: World, job: Job, act: Told, *, minutes: int, follow_ups: Sequence[FollowUp] = ()
) -> Visit:
    held = held_for(world, act, minutes)
    return book_visit(
        job=job,
        held=held,
        by=world.office,
        now=min(booked_at(world, act), held.starts_at),
        note=act.get("note", ""),
        follow_ups=follow_ups,
    )


def booked_from(world: World, house: House, act: Told, code: str, *, minutes: int) -> Visit:
    """From the open promise of that rule at this house, as the office does it."""
    follow_up = standing(house, code)
    held = held_for(world, act, minutes)
    return book_from(
        follow_up=follow_up,
        held=held,
        by=world.office,
        now=min(booked_at(world, act), held.starts_at),
    )


def held_for(world: World, act: Told, minutes: int) -> Held:
    people = [world.people[act[name]] for name in ("who", "helper") if act.get(name)]
    minutes = act.get("minutes", minutes)
    start = world.calendar.place(people, act["day"], act.get("hour", USUAL_HOUR), minutes)
    helper = people[1] if len(people) > 1 else None
    return Held(people[0], start, start + timedelta(minutes=minutes), helper)


def standing(house: House, code: str) -> FollowUp:
    rows = FollowUp.objects.open().filter(site=house.site, rule__code=code)
    return rows.select_related("terms").order_by("due_on").first() or _missing(house, code)


def _missing(house: House, code: str) -> FollowUp:
    raise LookupError(f"The demo books {code} at {house.site}, but no such promise is open.")


def begun(world: World, visit: Visit) -> bool:
    """Arrives if the time has come. True where the visit is over by now and can be told whole."""
    arrival = visit.starts_at + ARRIVES_AFTER
    if arrival > world.now:
        return False
    arrive(visit=visit, by=visit.lead, now=arrival)
    return visit.ends_at <= world.now


def ended(
    world: World,
    house: House,
    visit: Visit,
    *,
    outcome: str = Visit.Outcome.COMPLETED,
    at: datetime | None = None,
    feeder_left: str = Visit.Feeder.ON,
    bypass_left: str = Visit.Bypass.SERVICE,
    **facts: Any,
) -> Visit:
    """Closed as its technician leaves; a house without a feeder says so."""
    if not has_feeder(house):
        feeder_left = Visit.Feeder.NONE
        if house.train is None or not house.train.stages.exists():
            bypass_left = Visit.Bypass.NONE
    return close_visit(
        visit=visit,
        ending=Ending(outcome, feeder_left, bypass_left, **facts),
        by=visit.lead,
        now=max(at or visit.ends_at - LEAVES_BEFORE, visit.starts_at),
    )


def has_feeder(house: House) -> bool:
    return bool(
        house.train
        and Stage.objects.fitted().filter(train=house.train, kind=Stage.Kind.FEEDER).exists()
    )
