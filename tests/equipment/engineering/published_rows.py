"""Reads the check tables of fixtures/published.

A table of calculations has the columns COLUMNS. Other tables (own columns, own test) may lie in
the same folder and are left to their own tests.
"""

import csv
import json
from dataclasses import dataclass
from pathlib import Path

FOLDER = Path(__file__).parents[3] / "fixtures" / "published"
COLUMNS = (
    "id", "calculation", "source", "mark", "inputs", "result", "published", "unit",
    "tolerance", "note",
)  # fmt: skip
#: SEEN read in the source; SEEN-2nd read in a text that quotes the source; MEMORY known, source
#: not read; PRACTICE common practice, no source; DERIVED arithmetic done elsewhere, no evidence
MARKS = ("SEEN", "SEEN-2nd", "MEMORY", "PRACTICE", "DERIVED")


@dataclass(frozen=True)
class Published:
    """One printed value and the inputs it was printed for."""

    table: str
    id: str
    calculation: str
    source: str
    mark: str
    inputs: dict
    result: str
    published: str
    unit: str
    tolerance: float
    note: str

    def __str__(self):
        return f"{self.table}-{self.id}-{self.mark}"


def data_lines(path):
    """The lines of a table without its comments."""
    lines = path.read_text(encoding="utf-8").splitlines()
    return [line for line in lines if line.strip() and not line.startswith("#")]


def table_rows(name):
    """The rows of one table as dictionaries, whatever its columns."""
    return list(csv.DictReader(data_lines(FOLDER / f"{name}.csv")))


def has_our_columns(path):
    lines = data_lines(path)
    return bool(lines) and tuple(lines[0].split(",")) == COLUMNS


def published_rows(folder=FOLDER):
    """Every row of every table of calculations."""
    rows = []
    for path in sorted(folder.glob("*.csv")):
        if not has_our_columns(path):
            continue
        for row in csv.DictReader(data_lines(path)):
            row["inputs"] = json.loads(row["inputs"])
            row["tolerance"] = float(row["tolerance"] or 0)
            rows.append(Published(table=path.stem, **row))
    return rows
