"""The facts of records as a phone is handed them: with what its pages say beside the lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from jobs import models
from jobs.fieldwork.facts import Facts
from jobs.fieldwork.facts_beside import Beside, Poured, StripLot
from jobs.models import ChecklistRecord, StripCheck
from jobs.models.company import company_day
from jobs.records.loading import load_all
from jobs.records.poured import poured_of_all
from jobs.records.waits import taken_back_of
from jobs.workflows.strips import doubt_of, in_use_on


def facts_for_phone(record: ChecklistRecord, *, now: datetime) -> Facts:
    return all_for_phone([record], now=now)[record.pk]


def all_for_phone(records: Sequence[ChecklistRecord], *, now: datetime) -> dict[int, Facts]:
    """By number of the record, in as many queries as one."""
    checks, back = in_use_on(records, at=now), taken_back_of(records)
    lots = tuple(
        StripLot(pk=row.pk, oxidant=row.oxidant, lot=row.lot, expires_on=row.expires_on)
        for row in models.StripLot.objects.all()
    )
    poured = poured_of_all(records)
    return {
        pk: replace(facts, beside=_beside(poured[pk], back[pk], checks.get(pk), now, lots))
        for pk, facts in load_all(records, now=now).items()
    }


def _beside(
    poured: list[Poured],
    back: list[str],
    check: StripCheck | None,
    now: datetime,
    lots: tuple[StripLot, ...],
) -> Beside:
    return Beside(
        poured=tuple(poured),
        taken_back=tuple(back),
        strips=str(check.lot) if check else "",
        strips_doubt=doubt_of(check, company_day(now)) if check else "",
        strips_lot=check.lot_id if check else None,
        strips_of=next((lot for lot in lots if check and lot.pk == check.lot_id), None),
        lots=lots,
    )
