"""What was changed in a row people edit, newest first."""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import models

from jobs.wording.names import person

NEWEST = 20
NOT_SHOWN = {"id", "version"}


@dataclass(frozen=True)
class Change:
    at: datetime
    by: str
    reason: str
    lines: tuple[tuple[str, str, str], ...]  # label, before, after
    is_first: bool


def changes_of(row: models.Model, *, only: Collection[str] = ()) -> list[Change]:
    """The newest changes, savings without one left out; `only` keeps to some columns."""
    history: Any = row.history  # type: ignore[attr-defined]
    entries = list(history.select_related("history_user").order_by("-history_id")[: NEWEST + 1])
    found = []
    for entry, before in zip(entries, [*entries[1:], None], strict=True):
        is_first = before is None and len(entries) <= NEWEST
        lines = () if before is None else _lines(row, entry, before, only)
        if lines or (is_first and not only):
            found.append(
                Change(
                    entry.history_date,
                    person(entry.history_user) or "the program",
                    entry.history_change_reason or "",
                    lines,
                    is_first,
                )
            )
    return found[:NEWEST]


def _lines(
    row: models.Model, entry: object, before: object, only: Collection[str]
) -> tuple[tuple[str, str, str], ...]:
    found = []
    for field in row._meta.concrete_fields:
        if field.name in NOT_SHOWN or (only and field.name not in only):
            continue
        old, new = getattr(before, field.attname), getattr(entry, field.attname)
        if old != new:
            label = str(field.verbose_name)
            found.append((label[:1].upper() + label[1:], _shown(field, old), _shown(field, new)))
    return tuple(found)


def _shown(field: models.Field[Any, Any], value: object) -> str:
    if value is None or value == "":
        return "empty"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict | list):
        return json.dumps(value)
    if field.choices:
        return str(dict(field.flatchoices).get(value, value))
    return str(value)
