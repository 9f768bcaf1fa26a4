"""Wells, and the figures that belong to them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Site, Well

from .edits import save_edited
from .log import log
from .measurements import record_measurement


@dataclass(frozen=True)
class Figure:
    """One filled box of a form: what, as typed, in which unit, and who says so."""

    key: str
    text: str
    unit: str
    origin: str
    about_well: bool = True


@transaction.atomic
def save_well(
    *,
    well: Well,
    also_serves: Iterable[Site],
    figures: Iterable[Figure],
    by: User,
    now: datetime,
    version: int | None = None,
) -> Well:
    """Keep the identity of a well and add a row for each figure; nothing is overwritten."""
    if version is None:
        well.save()
        log(verb="created", subject=well, by=by, now=now, site=well.site)
    else:
        save_edited(row=well, version=version, by=by, now=now, site=well.site)
    well.also_serves.set(also_serves)
    for figure in figures:
        subject = {"well": well} if figure.about_well else {"site": well.site}
        record_measurement(
            quantity_key=figure.key,
            text=figure.text,
            unit=figure.unit,
            origin=figure.origin,
            measured_at=now,
            by=by,
            now=now,
            **subject,
        )
    return well
