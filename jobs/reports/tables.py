"""Tables that leave the program: CSV and XLSX that a spreadsheet does not take for formulas."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import tablib

#: what makes a spreadsheet compute a cell instead of showing it
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\x00")
#: signs a workbook cannot hold
NOT_IN_WORKBOOK = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
CONTENT_TYPES = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}

#: what a cell may hold
Value = str | int | float | bool | date | datetime | None


@dataclass(frozen=True)
class Table:
    title: str
    headers: tuple[str, ...]
    rows: tuple[tuple[Value, ...], ...]


def table(title: str, headers: Sequence[str], rows: Iterable[Sequence[Value]]) -> Table:
    return Table(title, tuple(headers), tuple(tuple(row) for row in rows))


def safe_cell(value: Value) -> Value:
    """Numbers stay numbers, days stay days; text that looks like a formula gets a quote before."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float | date | datetime):
        return value
    text = str(value)
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def as_csv(of: Table) -> bytes:
    """UTF-8 with a mark at its beginning, so that spreadsheets read names rightly."""
    text: str = _dataset(of).export("csv")
    return b"\xef\xbb\xbf" + text.replace("\x00", "").encode()


def as_xlsx(tables: Sequence[Table]) -> bytes:
    book = tablib.Databook([_dataset(each, workbook=True) for each in tables])
    content: bytes = book.export("xlsx")
    return content


def _dataset(of: Table, *, workbook: bool = False) -> Any:
    data = tablib.Dataset(title=of.title[:31])
    data.headers = [safe_cell(header) for header in of.headers]
    for row in of.rows:
        cells = [safe_cell(value) for value in row]
        if workbook:
            cells = [NOT_IN_WORKBOOK.sub("", c) if isinstance(c, str) else c for c in cells]
        data.append(cells)
    return data
