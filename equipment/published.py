"""The check tables of fixtures/published: printed values, their sources, and our answer to each.

A table of calculations has the columns COLUMNS; other tables in the folder have columns and a
test of their own. Figures that a source misprints stand in left_out.csv, with the reason.
"""

from __future__ import annotations

import csv
import json
import math
from dataclasses import dataclass
from pathlib import Path

from .engineering.registry import compute
from .engineering.results import Interval
from .engineering.units import Quantity, size_in

FOLDER = Path(__file__).parents[1] / "fixtures" / "published"
COLUMNS = (
    "id",
    "calculation",
    "source",
    "mark",
    "inputs",
    "result",
    "published",
    "unit",
    "tolerance",
    "note",
)
#: SEEN read in the source; SEEN-2nd read in a text that quotes the source; MEMORY known, source
#: not read; PRACTICE common practice, no source; DERIVED arithmetic done elsewhere, no evidence
MARKS = ("SEEN", "SEEN-2nd", "MEMORY", "PRACTICE", "DERIVED")
#: a tolerance that equals the difference is met, whatever the last binary digit says
ROUNDING = 1e-9
#: what a calculation answers, in the unit of the row
Answered = float | bool | str | None


@dataclass(frozen=True)
class Published:
    """One printed value and the inputs it was printed for."""

    table: str
    id: str
    calculation: str
    source: str
    mark: str
    inputs: dict[str, str | list[str]]
    result: str
    published: str
    unit: str
    tolerance: float
    note: str

    def __str__(self) -> str:
        return f"{self.table}-{self.id}-{self.mark}"

    @property
    def is_number(self) -> bool:
        try:
            return math.isfinite(float(self.published))
        except ValueError:
            return False

    def answered(self) -> Answered:
        """Ours in the row's unit; "key.low" and "key.high" name the ends of an interval."""
        name, _, end = self.result.partition(".")
        _, answer = compute(self.calculation, **self.inputs)
        value = getattr(answer, name)
        if isinstance(value, Interval):
            value = getattr(value, end)
        if isinstance(value, Quantity):
            return size_in(value, self.unit)
        bare: Answered = value
        return bare

    def agrees(self, value: Answered) -> bool:
        """Whether ours lies within the tolerance, or is the printed word."""
        if value is None:
            return False
        if not self.is_number or not isinstance(value, int | float):
            return str(value).lower() == self.published.lower()
        off = abs(value - float(self.published))
        return off <= self.tolerance * (1 + ROUNDING) + ROUNDING / 1000

    def deviation(self, value: Answered) -> float | None:
        """How far ours is from the printed value, as a share of it; None for words and nought."""
        if not self.is_number or not isinstance(value, int | float) or float(self.published) == 0:
            return None
        return abs(value / float(self.published) - 1)


def data_lines(path: Path) -> list[str]:
    """The lines of a table without its comments."""
    lines = path.read_text(encoding="utf-8").splitlines()
    return [line for line in lines if line.strip() and not line.startswith("#")]


def table_rows(name: str) -> list[dict[str, str]]:
    """The rows of one table as dictionaries, whatever its columns."""
    return list(csv.DictReader(data_lines(FOLDER / f"{name}.csv")))


def has_our_columns(path: Path) -> bool:
    lines = data_lines(path)
    return bool(lines) and tuple(lines[0].split(",")) == COLUMNS


def published_rows(folder: Path = FOLDER) -> list[Published]:
    """Every row of every table of calculations."""
    rows: list[Published] = []
    for path in sorted(folder.glob("*.csv")):
        if not has_our_columns(path):
            continue
        for row in csv.DictReader(data_lines(path)):
            facts = {**row, "inputs": json.loads(row["inputs"])}
            facts["tolerance"] = float(row["tolerance"] or 0)
            rows.append(Published(table=path.stem, **facts))
    return rows


def other_tables(folder: Path = FOLDER) -> dict[str, int]:
    """Tables with columns of their own, and how many rows each has."""
    return {
        path.stem: len(data_lines(path)) - 1
        for path in sorted(folder.glob("*.csv"))
        if not has_our_columns(path)
    }
