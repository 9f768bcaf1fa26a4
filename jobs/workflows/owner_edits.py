"""Rows the owner edits in place: rules, catalog, company values. Their history is kept."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import EditedMeanwhile

from .edits import differences
from .log import log


def version_of(row: Any) -> int:
    """The newest entry of the row's history; it moves with every saving."""
    if row.pk is None:
        return 0
    newest = row.history.order_by("-history_id").values_list("history_id", flat=True).first()
    return int(newest or 0)


@transaction.atomic
def save_owned(
    *, row: Any, seen: int, by: User, now: datetime, reason: str = "", verb: str = ""
) -> None:
    """Keep an edited or new row; the second of two savers is told what the first one wrote.

    `verb` is what the act is called where it is more than adding or editing.
    """
    is_new = row.pk is None
    if not is_new:
        current = type(row).objects.select_for_update().get(pk=row.pk)
        if version_of(current) != seen:
            raise EditedMeanwhile(
                "Somebody else saved this meanwhile. Look at both, then save again.",
                differences=differences(row, current),
            )
    row._change_reason = reason[:100] or None
    row._history_user, row._history_date = by, now
    row.save()
    verb = verb or ("added" if is_new else "edited")
    log(verb=verb, subject=row, by=by, now=now, reason=reason[:300])
