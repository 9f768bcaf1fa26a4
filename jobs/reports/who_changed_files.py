"""Who changed what, as a table for a spreadsheet."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils import timezone

from .changed_rows import SUBJECTS
from .tables import Table, Value, as_csv, as_xlsx, table
from .who_changed import EVERYTHING, FILE_ROWS, Asked, Line, lines

HEADERS = (
    "When",
    "Who",
    "What was done",
    "About",
    "House",
    "Detail",
    "Before",
    "After",
    "Reason",
)


def written(asked: Asked, kind: str, *, person: str) -> bytes:
    """Of a CSV the first table: the changes. One line for each column that differs."""
    found, is_cut = lines(asked, most=FILE_ROWS)
    changes = table("Changes", HEADERS, (row for line in found for row in _rows(line)))
    if kind == "csv":
        return as_csv(changes)
    return as_xlsx([changes, _question(asked, person, is_cut=is_cut)])


def _rows(line: Line) -> Iterable[tuple[Value, ...]]:
    at = timezone.localtime(line.at).strftime("%Y-%m-%d %H:%M")
    head = (at, line.by, line.what, line.about, str(line.house or ""))
    said = [(name, "", value, line.reason) for name, value in line.details]
    said += [(name, before, after, line.reason) for name, before, after in line.columns]
    return ((*head, *each) for each in said or [("", "", "", line.reason)])


def _question(asked: Asked, person: str, *, is_cut: bool) -> Table:
    rows = [
        ("From", asked.since.isoformat()),
        ("To", asked.until.isoformat()),
        ("By", person),
        ("About", SUBJECTS[asked.subject].word if asked.subject in SUBJECTS else EVERYTHING),
        ("Whole", f"no, the newest {FILE_ROWS} only" if is_cut else "yes"),
    ]
    return table("What was asked", ("Word", "What it says"), rows)
