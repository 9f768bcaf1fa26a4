"""Solution or salt put into a tank, with or without a visit of ours."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Fill, OxidantProduct, Stage
from jobs.errors import BadEntry

from . import follow_ups
from .log import log

CLOCK_AHEAD = timedelta(minutes=5)


@transaction.atomic
def record_fill(
    *,
    stage: Stage,
    at: datetime,
    by: User,
    now: datetime,
    product: OxidantProduct | None = None,
    lot: str = "",
    strength_g_l: float | None = None,
    product_gal: float | None = None,
    water_gal: float | None = None,
    salt_lb: float | None = None,
    level_before_gal: float | None = None,
    level_after_gal: float | None = None,
    filled_by: str = Fill.FilledBy.COMPANY,
    occasion: uuid.UUID | None = None,
) -> Fill:
    """A fill keeps the refill promise of that tank and makes the next one."""
    if at > now + CLOCK_AHEAD:
        raise BadEntry("The time of the fill lies ahead.", field="at")
    tank = stage.solution_tank_gal
    if tank and level_after_gal is not None and level_after_gal > tank:
        raise BadEntry(f"The tank holds {tank:g} gal: at most that.", field="level_after_gal")
    fill = Fill.objects.create(
        stage=stage,
        product=product or stage.product,
        lot=lot,
        strength_g_l=strength_g_l,
        product_gal=product_gal,
        water_gal=water_gal,
        salt_lb=salt_lb,
        level_before_gal=level_before_gal,
        level_after_gal=level_after_gal,
        filled_by=filled_by,
        at=at,
        recorded_at=now,
        recorded_by=by,
        occasion=occasion,
    )
    log(verb="filled", subject=fill, by=by, now=now, site=stage.train.site)
    if stage.kind == Stage.Kind.FEEDER:
        follow_ups.close_by_fill(fill=fill, by=by, now=now)
    return fill
