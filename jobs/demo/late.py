"""A technician of the demo who is held up at a house, and who must be called behind that."""

from __future__ import annotations

from datetime import datetime, timedelta

from jobs.mail.recipients import told_of_visit
from jobs.models import Visit
from jobs.models.visits import QUARTER
from jobs.workflows.held import Held
from jobs.workflows.telling import Call, tell_by_telephone
from jobs.workflows.visits import arrive, book_visit

from .booking import ARRIVES_AFTER, begun, booked, booked_at, ended, job_for
from .cast import House, Told, World

MINUTES, TOLD = timedelta(minutes=45), timedelta(minutes=30)
#: quarter hours from the one that runs to the beginning of each visit
BEGINS = (-6, -2, 2)
#: a demo that is made outside these hours has nobody who is late
EARLIEST, LATEST = 6.5, 20.0


def runs_late(world: World, house: House, act: Told) -> None:
    """Still at this house well past the end; whoever waits `behind` was told hours that will be
    over. Made before or after work, these are visits like others."""
    houses = [house, *(world.houses[key] for key in act["behind"])]
    if begins := _hours(world, act):
        for place, starts_at in zip(houses, begins, strict=True):
            _held(world, place, act, starts_at)
        return
    for place in houses:
        visit = booked(world, job_for(world, place, act, act["kind"]), act, minutes=45)
        if begun(world, visit):
            ended(world, place, visit)


def _hours(world: World, act: Told) -> list[datetime]:
    """Of each visit, where the time is free and lies within a day of work."""
    now, who = world.now, world.people[act["who"]]
    runs = now - timedelta(
        minutes=now.minute % 15, seconds=now.second, microseconds=now.microsecond
    )
    begins = [runs + n * QUARTER for n in BEGINS]
    calendar = world.calendar
    earliest, latest = (calendar.at(calendar.today, hour) for hour in (EARLIEST, LATEST))
    last = begins[-1] + MINUTES
    if begins[0] < earliest or last > latest or not calendar.is_free([who], begins[0], last):
        return []
    calendar.hold([who], begins[0], last)
    return begins


def _held(world: World, house: House, act: Told, starts_at: datetime) -> None:
    who = world.people[act["who"]]
    visit = book_visit(
        job=job_for(world, house, act, act["kind"]),
        held=Held(who, starts_at, starts_at + MINUTES, None, starts_at, starts_at + TOLD),
        by=world.office,
        now=booked_at(world, act),
    )
    if starts_at + MINUTES <= world.now:
        arrive(visit=visit, by=who, now=starts_at + ARRIVES_AFTER)
    elif starts_at <= world.now:
        _telephoned(world, visit, booked_at(world, act))


def _telephoned(world: World, visit: Visit, now: datetime) -> None:
    """Their letters are long past, and it is begun: each heard the hours on the telephone."""
    for customer in told_of_visit(visit).people:
        number = customer.phones[0].as_national
        call = Call(customer.name, number, read_back=True, customer=customer)
        tell_by_telephone(visit=visit, sequence=visit.sequence, call=call, by=world.office, now=now)
