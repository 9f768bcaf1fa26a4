"""The time of people in the demo: hours, time away, a closed day, what work asks for."""

from __future__ import annotations

from dataclasses import replace
from datetime import time

from jobs.workflows.absences import Away, enter_absence
from jobs.workflows.driving import keep_drive
from jobs.workflows.working_time import keep_day, keep_needs, keep_week, week_of

from .cast import Told, World

MORNING, EVENING = 7.2, 19.0


def hours(world: World, act: Told) -> None:
    """The same hours from Monday to Friday, with a lunch of their own."""
    person = world.people[act["who"]]
    week = week_of(person)
    span, lunch = (_span(act[name]) for name in ("works", "lunch"))
    days = (*(span for _ in range(5)), None, None)
    keep_week(
        person=person,
        week=replace(week, days=days, lunch=lunch),
        seen=week.stamp,
        by=world.office,
        now=world.calendar.moment(act["day"], MORNING),
    )


def _span(text: str) -> tuple[time, time]:
    begins, ends = text.split(" to ")
    return time.fromisoformat(begins), time.fromisoformat(ends)


def away(world: World, act: Told) -> None:
    """Entered when it was known; what was booked before it stands in it."""
    first, last = (world.calendar.working_day(act[name]) for name in ("first", "last"))
    enter_absence(
        person=world.people[act["who"]],
        away=Away(act["kind"], first, last, note=act.get("note", "")),
        by=world.office,
        now=world.calendar.moment(act["day"], MORNING),
    )


def day_closed(world: World, act: Told) -> None:
    keep_day(
        day=world.calendar.working_day(act["on"]),
        name=act["name"],
        is_worked=False,
        by=world.owner,
        now=world.calendar.moment(act["day"], EVENING),
    )


def needs(world: World, act: Told) -> None:
    wanted = {kind: (licence, people) for kind, (licence, people) in act["work"].items()}
    now = world.calendar.moment(act["day"], EVENING)
    keep_needs(wanted=wanted, by=world.owner, now=now)


def drives(world: World, act: Told) -> None:
    """The table of towns: minutes of each pair."""
    now = world.calendar.moment(act["day"], EVENING)
    for one, other, minutes in act["minutes"]:
        keep_drive(one=one, other=other, minutes=minutes, by=world.owner, now=now)
