"""What was done to a wait and taken back, in words for the page and for paper."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import datetime

from jobs.models import ChecklistLine, ChecklistRecord, LogEntry
from jobs.schedule.hours import moment_words, zone_of
from jobs.wording.names import person

#: what the log calls it
TAKEN_BACK = "timer_taken_back"
ACTS = {"begin": "begun", "stop": "stopped"}


def taken_back(record: ChecklistRecord) -> list[str]:
    """One sentence for each act on a wait of this record that was taken back."""
    return taken_back_of([record])[record.pk]


def taken_back_of(records: Collection[ChecklistRecord]) -> dict[int, list[str]]:
    """By number of the record, two queries at most."""
    known = {record.pk: record for record in records}
    rows = LogEntry.objects.filter(
        subject_type=ChecklistRecord._meta.label_lower, subject_id__in=known, verb=TAKEN_BACK
    )
    entries = list(rows.select_related("by").order_by("at", "pk"))
    labels = _labels(records, entries) if entries else {}
    found: dict[int, list[str]] = {pk: [] for pk in known}
    for entry in entries:
        record = known[entry.subject_id]
        key = entry.data["line"]
        name = labels.get((record.template_id, key), key)
        found[record.pk].append(_said(entry, record, name))
    return found


def _labels(
    records: Iterable[ChecklistRecord], entries: Iterable[LogEntry]
) -> dict[tuple[int, str], str]:
    lines = ChecklistLine.objects.filter(
        template__in={record.template_id for record in records},
        key__in={entry.data["line"] for entry in entries},
    )
    return {(line.template_id, line.key): line.label for line in lines}


def _said(entry: LogEntry, record: ChecklistRecord, name: str) -> str:
    zone = zone_of(record.site)
    done = moment_words(datetime.fromisoformat(entry.data["of"]), zone)
    back = moment_words(entry.at, zone)
    who = person(entry.by) if entry.by else "somebody"
    return f"{name}, {ACTS[entry.data['act']]} {done}: taken back {back} by {who}, {entry.reason}"
