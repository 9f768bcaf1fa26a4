"""Saving an edited row only if nobody saved it meanwhile."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import models, transaction
from django.db.models import F

from equipment.models import Site, Train, Well
from jobs.errors import EditedMeanwhile
from jobs.models import Customer, SiteTenure

from .log import log

#: rows that count their versions
Edited = Customer | Site | SiteTenure | Train | Well


@transaction.atomic
def save_edited(
    *, row: Edited, version: int, by: User, now: datetime, site: Site | None = None
) -> None:
    """Keep an edited row of one that counts its versions; the second of two savers is told."""
    rows = type(row)._default_manager.filter(pk=row.pk)
    if not rows.filter(version=version).update(version=F("version") + 1):
        current = rows.get()
        raise EditedMeanwhile(
            "Somebody else saved this meanwhile. Look at both, then save again.",
            differences=differences(row, current),
        )
    row.version = version + 1
    row.save()
    log(verb="edited", subject=row, by=by, now=now, site=site)


def differences(ours: models.Model, theirs: models.Model) -> list[tuple[str, str, str]]:
    """(label, what we typed, what is kept) for each field of the form that differs."""
    found = []
    for field in ours._meta.concrete_fields:
        if not field.editable or field.primary_key:
            continue
        mine, kept = (_shown(row, field) for row in (ours, theirs))
        if mine != kept:
            found.append((str(field.verbose_name).capitalize(), mine, kept))
    return found


def _shown(row: models.Model, field: models.Field[Any, Any]) -> str:
    if field.choices:
        return str(getattr(row, f"get_{field.name}_display")())
    value = getattr(row, field.name)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "" if value is None else str(value)
