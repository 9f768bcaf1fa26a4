"""Solution or salt put into a tank, with or without a visit of ours."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Fill, OxidantProduct, Stage
from jobs.errors import BadEntry

from . import follow_ups
from .log import log
from .measurements import CLOCK_AHEAD


@dataclass(frozen=True)
class Poured:
    """What went into a tank and when: solution with its strength, or salt; levels; by whom."""

    at: datetime
    product: OxidantProduct | None = None
    lot: str = ""
    strength_g_l: float | None = None
    product_gal: float | None = None
    water_gal: float | None = None
    salt_lb: float | None = None
    level_before_gal: float | None = None
    level_after_gal: float | None = None
    filled_by: str = Fill.FilledBy.COMPANY


@transaction.atomic
def record_fill(
    *,
    stage: Stage,
    poured: Poured,
    by: User,
    now: datetime,
    occasion: uuid.UUID | None = None,
) -> Fill:
    """A fill keeps the refill promise of that tank and makes the next one."""
    if poured.at > now + CLOCK_AHEAD:
        raise BadEntry("The time of the fill lies ahead.", field="at")
    tank, level = stage.solution_tank_gal, poured.level_after_gal
    if tank and level is not None and level > tank:
        raise BadEntry(f"The tank holds {tank:g} gal: at most that.", field="level_after_gal")
    fill = Fill.objects.create(
        stage=stage,
        product=poured.product or stage.product,
        lot=poured.lot,
        strength_g_l=poured.strength_g_l,
        product_gal=poured.product_gal,
        water_gal=poured.water_gal,
        salt_lb=poured.salt_lb,
        level_before_gal=poured.level_before_gal,
        level_after_gal=level,
        filled_by=poured.filled_by,
        at=poured.at,
        recorded_at=now,
        recorded_by=by,
        occasion=occasion,
    )
    log(verb="filled", subject=fill, by=by, now=now, site=stage.train.site)
    if stage.kind == Stage.Kind.FEEDER:
        follow_ups.close_by_fill(fill=fill, by=by, now=now)
    return fill
