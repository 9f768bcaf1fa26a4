"""Who was told before chlorine went in, on a closed record, put right by a newer version."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import BadEntry
from jobs.fieldwork.facts_beside import Poured
from jobs.models import ChecklistRecord, RecordCorrection
from jobs.records.poured import POUR_TOLD, figures_of_telling, poured_of, telling_said

from .corrections import print_anew, stand, to_correct
from .step_corrections import UNCHANGED, moment_then
from .telling import Adult

HERE = "Who was told before the chlorine went in"
NEXT_DOOR = f"{HERE}, at another house on the well"


@dataclass(frozen=True)
class RightTelling:
    """The telling of one house as it should have been written down, and why."""

    adult: Adult
    told_at: datetime
    reason: str


@transaction.atomic
def correct_telling(
    *, record: ChecklistRecord, house: int, right: RightTelling, by: User, now: datetime
) -> RecordCorrection:
    """Name, way, number and moment; the household of the record reads no name of its neighbours."""
    record = to_correct(record, reason=right.reason, by=by)
    row = next((each for each in poured_of(record) if each.house == house), None)
    if row is None:
        raise BadEntry("This record has no such house.", field="house")
    put = _right_telling(record, row, right, now=now)
    if put == row:
        raise BadEntry(UNCHANGED, field="reason")
    is_here = house == record.site_id
    version = RecordCorrection(
        line_key=POUR_TOLD,
        figures=figures_of_telling(put),
        label=HERE if is_here else NEXT_DOOR,
        before=telling_said(record, row, named=is_here)[:300],
        after=telling_said(record, put, named=is_here)[:300],
        reason=right.reason,
    )
    stand(record, version, by=by, now=now)
    return print_anew(record, version, by=by, now=now)


def _right_telling(
    record: ChecklistRecord, row: Poured, right: RightTelling, *, now: datetime
) -> Poured:
    right.adult.check()
    told_at = moment_then(record, right.told_at, now, "told_at")
    kept: dict[str, Any] = {**right.adult.kept, "read_back": True, "told_at": told_at}
    return replace(row, **kept)
