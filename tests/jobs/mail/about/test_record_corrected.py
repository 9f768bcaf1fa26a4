"""The letter about a corrected record."""

from jobs.mail import about
from jobs.models import RecordCorrection
from tests.jobs.mail.letters import NOW

from .first_ones import a_record


def record_corrected():
    record = a_record()
    row = RecordCorrection.objects.create(
        record=record,
        version=1,
        line_key="raw-iron",
        text="3",
        label="Iron, raw",
        before="0.3 mg/L",
        after="3 mg/L",
        reason="a point was lost",
        by=record.opened_by,
        at=NOW,
    )
    return about.record_corrected.write(correction=row, now=NOW)
