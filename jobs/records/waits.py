"""What was done to a wait and taken back, in words for the page and for paper."""

from __future__ import annotations

from datetime import datetime

from jobs.models import ChecklistRecord, LogEntry
from jobs.schedule.hours import moment_words, zone_of
from jobs.wording.names import person

#: what the log calls it
TAKEN_BACK = "timer_taken_back"
ACTS = {"begin": "begun", "stop": "stopped"}


def taken_back(record: ChecklistRecord) -> list[str]:
    """One sentence for each act on a wait of this record that was taken back."""
    entries = LogEntry.objects.filter(
        subject_type=record._meta.label_lower, subject_id=record.pk, verb=TAKEN_BACK
    )
    return [_said(entry, record) for entry in entries.select_related("by").order_by("at", "pk")]


def _said(entry: LogEntry, record: ChecklistRecord) -> str:
    line = record.template.lines.filter(key=entry.data["line"]).first()
    name = line.label if line else entry.data["line"]
    zone = zone_of(record.site)
    done = moment_words(datetime.fromisoformat(entry.data["of"]), zone)
    back = moment_words(entry.at, zone)
    who = person(entry.by) if entry.by else "somebody"
    return f"{name}, {ACTS[entry.data['act']]} {done}: taken back {back} by {who}, {entry.reason}"
