"""The facts of a record as a phone is handed them: with what its pages say beside the lines."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from jobs.fieldwork.facts import Beside, Facts, Poured
from jobs.models import ChecklistRecord
from jobs.models.company import company_day
from jobs.records.loading import load_facts
from jobs.records.waits import taken_back
from jobs.workflows.strips import doubt_of, in_use


def facts_for_phone(record: ChecklistRecord, *, now: datetime) -> Facts:
    check = in_use(record, at=now)
    poured = record.poured.select_related("site")
    beside = Beside(
        poured=tuple(Poured(site=str(row.site), whom=row.whom, at=row.at) for row in poured),
        taken_back=tuple(taken_back(record)),
        strips=str(check.lot) if check else "",
        strips_doubt=doubt_of(check, company_day(now)) if check else "",
    )
    return replace(load_facts(record, now=now), beside=beside)
