"""Lives the story of fixtures/demo.json up to now, in one transaction."""

from __future__ import annotations

import gc
import json
from datetime import datetime

from django.conf import settings
from django.db import transaction

from equipment.models import Site
from jobs.models import Company, LogEntry, OutboxMail, Visit
from jobs.models.company import company_day
from jobs.models.visits import day_start
from jobs.workflows.log import log
from jobs.workflows.telling import Call, tell_by_telephone

from .acts import ACTS
from .calendar import Calendar
from .cast import Told, World, gather, move_in
from .crowd import grown
from .scenes import DEEDS

LOADED = "demo_loaded"


def tell(*, now: datetime) -> Told:
    """The story, with the crowd around it where DEMO_SIZE asks for it."""
    told = read("demo.json")
    if settings.DEMO_SIZE == "large":
        return grown(told, read("demo_large.json"), Calendar(now))
    return told


def read(name: str) -> Told:
    path = settings.BASE_DIR / "fixtures" / name
    told: Told = json.loads(path.read_text(encoding="utf-8"))
    return told


def load(*, now: datetime) -> World:
    """All or nothing. Many short-lived rows: the collector of garbage may rest meanwhile."""
    gc.disable()
    try:
        with transaction.atomic():
            return _live(now=now)
    finally:
        gc.enable()


def _live(*, now: datetime) -> World:
    """Everything happens in the order of its days, each with the clock of its day."""
    world = gather(tell(now=now), now=now)
    for key, told in world.told["houses"].items():
        move_in(world, key, told)
    for _day, key, act in in_order(world.told):
        if key:
            ACTS[act["do"]](world, world.houses[key], act)
        else:
            DEEDS[act["do"]](world, act)
    skip_past_mail(now=now)
    log(verb=LOADED, subject=Company.load(), by=None, now=now)
    return world


def in_order(told: Told) -> list[tuple[int, str, Told]]:
    """Day, house, act; no house where the owner acts for the whole company."""
    acts = [
        (act["day"], key, act) for key, house in told["houses"].items() for act in house["story"]
    ]
    acts += [(act["day"], "", act) for act in told["owner_acts"]]
    return sorted(acts, key=lambda row: row[0])


def skip_past_mail(*, now: datetime) -> int:
    """Letters of days gone by are not sent; today's wait for the worker."""
    today = day_start(company_day(now))
    queued = OutboxMail.objects.filter(state=OutboxMail.State.QUEUED)
    past = queued.filter(not_before__lt=today) | queued.filter(useful_until__lte=now)
    for mail in past.filter(visit__in=Visit.objects.to_come().filter(starts_at__gt=now)):
        _telephoned(mail)
    return past.update(
        state=OutboxMail.State.SKIPPED, last_error="its time was past when the demo was loaded"
    )


def _telephoned(mail: OutboxMail) -> None:
    """The office rang in place of a letter that is not sent."""
    assert mail.visit
    assert mail.customer
    if mail.customer.phones:
        number = mail.customer.phones[0].as_national
        tell_by_telephone(
            visit=mail.visit,
            sequence=mail.visit.sequence,
            call=Call(mail.customer.name, number, read_back=True),
            by=mail.visit.booked_by,
            now=mail.created_at,
        )


def loaded_at() -> datetime | None:
    """When the demo in this database was made; None where there is none."""
    row = LogEntry.objects.filter(verb=LOADED).order_by("-at").first()
    return row.at if row else None


def is_occupied() -> bool:
    return Site.objects.exists()
