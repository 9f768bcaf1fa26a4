"""Lives the story of fixtures/demo.json up to now, in one transaction."""

from __future__ import annotations

import gc
import json
from datetime import datetime

from django.conf import settings
from django.db import transaction

from equipment.models import Site
from jobs.models import Company, LogEntry
from jobs.workflows.log import log
from jobs.workflows.mail_holds import hold_after_restore

from .acts import ACTS
from .calendar import Calendar
from .cast import Told, World, gather, move_in
from .crowd import grown
from .letters import skip_past_mail
from .scenes import DEEDS

LOADED = "demo_loaded"
MIDNIGHT = 24.0


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


def load(*, now: datetime, mail_held: bool = False) -> World:
    """All or nothing. Many short-lived rows: the collector of garbage may rest meanwhile.

    With `mail_held` the demo stands as a company that was put back from a copy: nothing leaves
    until the owner says what.
    """
    gc.disable()
    try:
        with transaction.atomic():
            world = _live(now=now)
            if mail_held:
                hold_after_restore(now=now)
            return world
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
    """Day, house, act; no house where the owner acts for the whole company.

    Today by the hour: who is at a house now has been at the others before, and what says no hour
    goes on at this moment.
    """
    acts = [
        (act["day"], key, act) for key, house in told["houses"].items() for act in house["story"]
    ]
    acts += [(act["day"], "", act) for act in told["owner_acts"]]
    return sorted(acts, key=lambda row: (row[0], 0 if row[0] else row[2].get("hour", MIDNIGHT)))


def loaded_at() -> datetime | None:
    """When the demo in this database was made; None where there is none."""
    row = LogEntry.objects.filter(verb=LOADED).order_by("-at").first()
    return row.at if row else None


def is_occupied() -> bool:
    return Site.objects.exists()
