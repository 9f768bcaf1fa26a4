"""Visits of the demo that wait for another one, or for a bottle at the laboratory."""

from __future__ import annotations

from equipment.models import Sample
from jobs.models import Visit
from jobs.workflows.waits import WaitsFor, book_waiting, keep_laboratory_day

from .booking import booked_at, held_for, job_for
from .cast import OFFICE_HOUR, House, Told, World


def waits(world: World, house: House, act: Told) -> None:
    """Held until so many days after the visit to come, or until the newest bottle is read."""
    book_waiting(
        what=_what(house, act),
        job=job_for(world, house, act, act["kind"]),
        held=held_for(world, act, act.get("minutes", 60)),
        by=world.office,
        now=booked_at(world, act),
    )


def _what(house: House, act: Told) -> WaitsFor:
    if days := act.get("days_after"):
        coming = Visit.objects.filter(job__site=house.site).to_come().select_related("job")
        return WaitsFor(after=coming.latest("starts_at"), days=days)
    bottles = Sample.objects.filter(site=house.site, outcome=Sample.Outcome.WAITING)
    return WaitsFor(sample=bottles.latest("taken_at"))


def laboratory_day(world: World, act: Told) -> None:
    keep_laboratory_day(
        day=world.calendar.day(act["off"]),
        name=act["name"],
        by=world.owner,
        now=world.calendar.moment(act["day"], OFFICE_HOUR),
    )
