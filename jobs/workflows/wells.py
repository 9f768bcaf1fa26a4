"""Wells, and the figures that belong to them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Site, Well

from .edits import save_edited
from .log import log
from .measurements import Reading, record_measurement


@transaction.atomic
def save_well(
    *,
    well: Well,
    also_serves: Iterable[Site] | None,
    figures: Iterable[Reading],
    by: User,
    now: datetime,
    house_figures: Iterable[Reading] = (),
    version: int | None = None,
    at: datetime | None = None,
) -> Well:
    """Keep the identity of a well and add a row for each figure of it and of its house.

    Who else is served stays as it is where `also_serves` is None.
    """
    if version is None:
        well.save()
        log(verb="created", subject=well, by=by, now=now, site=well.site)
    else:
        save_edited(row=well, version=version, by=by, now=now, site=well.site)
    if also_serves is not None:
        well.also_serves.set(also_serves)
    told: list[tuple[Well | Site, Reading]] = [(well, reading) for reading in figures]
    for about, reading in (*told, *((well.site, reading) for reading in house_figures)):
        record_measurement(about=about, reading=reading, measured_at=at or now, by=by, now=now)
    return well
