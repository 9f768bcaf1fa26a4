"""What was changed in a row people edit, newest first."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import models

from jobs.wording.names import person

from .changed_columns import Column, columns

NEWEST = 20
#: entries of a whole table that are read to find the newest changes
READ = 10 * NEWEST


@dataclass(frozen=True)
class Change:
    at: datetime
    by: str
    reason: str
    lines: tuple[Column, ...]
    is_first: bool


def changes_of(row: models.Model, *, only: Collection[str] = ()) -> list[Change]:
    """The newest changes, savings without one left out; `only` keeps to some columns."""
    history: Any = row.history  # type: ignore[attr-defined]
    entries = list(history.select_related("history_user").order_by("-history_id")[: NEWEST + 1])
    found = []
    for entry, before in zip(entries, [*entries[1:], None], strict=True):
        is_first = before is None and len(entries) <= NEWEST
        lines = () if before is None else columns(entry, before, only=only)
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


def changes_of_all(model: type[models.Model], column: str) -> list[Change]:
    """The newest changes of a small table: which row, and one column before and after."""
    history: Any = model.history  # type: ignore[attr-defined]
    newest = list(history.select_related("history_user").order_by("-history_id")[:READ])
    last: dict[int, Any] = {}
    found: list[Change] = []
    for entry in reversed(newest):
        before = last.pop(entry.id, None)
        shown = "not in the table" if entry.history_type == "-" else str(getattr(entry, column))
        was = "not in the table" if before is None else str(getattr(before, column))
        if entry.history_type != "-":
            last[entry.id] = entry
        if before is None and entry.history_type != "+":
            continue  # what it was before stands farther back than is read
        who, name = person(entry.history_user) or "the program", str(entry.instance)
        lines = ((name[:1].upper() + name[1:], was, shown),)
        found.append(Change(entry.history_date, who, "", lines, is_first=False))
    return found[: -NEWEST - 1 : -1]
