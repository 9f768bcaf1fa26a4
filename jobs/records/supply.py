"""How long the solution tank lasts: the one figure for plan, refill promise and recheck."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from equipment.models import StoredAssessment
from jobs.fieldwork.keys import PanelName
from jobs.models.fed import FED, age_of

SAID = ("solution_per_day", "days_of_supply")


@dataclass(frozen=True)
class Supply:
    """From the newest record: at the setting that was left, else at the one worked out."""

    per_day_gal: float | None
    days: float | None
    at_setting_left: bool
    on: datetime


def supply_of(train_id: int | None) -> Supply | None:
    """None where no record has worked it out yet."""
    kept = StoredAssessment.objects.standing().filter(train=train_id, name__in=FED)
    told = [row for row in kept if any(row.results.get(key) for key in SAID)]
    newest = max(told, key=lambda row: age_of(row.name, row.recorded_at), default=None)
    if newest is None:
        return None
    return Supply(
        _value(newest, "solution_per_day"),
        _value(newest, "days_of_supply"),
        newest.name == PanelName.DOSE_FROM_SETTING,
        newest.recorded_at,
    )


def _value(row: StoredAssessment, key: str) -> float | None:
    found = row.results.get(key)
    return float(found["value"]) if found else None
