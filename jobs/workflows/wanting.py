"""What a closing or a correction of a record brings to light: a line that must pass, and did not.

A contact time that was too short, or chlorine that was too weak, is a disinfection that does not
count, also where it was passed over by name: somebody comes back and does it again. Notices follow
their own evidence: “sample pending” stands, or was lifted on samples that say of the water what
they say, whatever was done before. Nothing is opened or lifted here.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from django.contrib.auth.models import User

from jobs.fieldwork.keys import DISINFECTS
from jobs.fieldwork.sheet import Sheet
from jobs.models import ChecklistRecord, FollowUpRule
from jobs.models.coming import again_after
from jobs.models.company import company_day

from . import follow_ups


def wanting(sheet: Sheet) -> frozenset[str]:
    """Lines that must pass and do not, of any part, also where they were passed over by name."""
    return frozenset(item.line.key for item in sheet.items if sheet.against(item))


def disinfects_not(sheet: Sheet) -> frozenset[str]:
    """What makes chlorine that was poured no disinfection: too weak, or for too short."""
    return wanting(sheet) & set(DISINFECTS)


def found_wanting(
    record: ChecklistRecord,
    before: Collection[str],
    after: Collection[str],
    *,
    by: User,
    now: datetime,
) -> None:
    """What fails since this correction is promised; what passes again is promised no more."""
    visit = record.closed_in
    for contact in (True, False):
        failed, fails = _of(before, contact=contact), _of(after, contact=contact)
        if fails - failed:
            follow_ups.happened(
                event=FollowUpRule.Event.FOUND_WANTING,
                about=follow_ups.About(record.site, record.train, visit=visit),
                day=company_day(now),
                by=by,
                now=now,
                job_kind=record.job.kind,
                contact_short=contact,
            )
        elif failed and not fails:
            facts = {"job_kind": record.job.kind, "contact_short": contact}
            follow_ups.not_so(rows=again_after(record), facts=facts, by=by, now=now)


def _of(keys: Collection[str], *, contact: bool) -> set[str]:
    return {key for key in keys if (key in DISINFECTS) == contact}
