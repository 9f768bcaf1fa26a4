"""The answer of a verdict day is kept by the first night from it on, and stands until the next."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from jobs.models import Verdict
from jobs.models.company import company_day
from jobs.reports.callback_jobs import Selection, judged_cells
from jobs.reports.fair_answer import WINDOW_DAYS, answer_of, verdict_day, verdict_period
from jobs.reports.fair_cells import causes_of, work_table
from jobs.reports.fair_kept import table_told, told


@transaction.atomic
def keep_verdict(now: datetime) -> None:
    """Once: whatever becomes known later changes no answer that was given."""
    day = verdict_day(company_day(now))
    if Verdict.objects.filter(day=day).exists():
        return
    since, until = verdict_period(day)
    cells = judged_cells(Selection(since, day, WINDOW_DAYS, day))
    table = work_table(cells)
    answer = answer_of(table)
    named = [int(str(person.key)) for person in answer.named]
    Verdict.objects.get_or_create(
        day=day,
        defaults={
            "recorded_at": now,
            "since": since,
            "until": until,
            "method": answer.method,
            "kind": answer.kind,
            "table": table_told(table),
            "answer": told(answer),
            "causes": dict(causes_of(cells, named)),
        },
    )
