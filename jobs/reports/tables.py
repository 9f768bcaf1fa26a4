"""Tables that leave the program: CSV and XLSX that a spreadsheet does not take for formulas."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import openpyxl
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

#: what makes a spreadsheet compute a cell instead of showing it
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\x00")
#: signs a workbook cannot hold
NOT_IN_WORKBOOK = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
BOLD = Font(bold=True)
#: signs that the name of a sheet must not hold
NOT_IN_TITLE = re.compile(r"[\\*?:/\[\]]")
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
    #: a sentence in the first row, over the headers; "" for none
    above: str = ""


def table(
    title: str, headers: Sequence[str], rows: Iterable[Sequence[Value]], *, above: str = ""
) -> Table:
    return Table(title, tuple(headers), tuple(tuple(row) for row in rows), above)


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
    text = io.StringIO(newline="")
    csv.writer(text).writerows([safe_cell(value) for value in row] for row in _rows(of))
    return b"\xef\xbb\xbf" + text.getvalue().replace("\x00", "").encode()


def as_xlsx(tables: Sequence[Table]) -> bytes:
    """A sheet for each table: its headers stay in sight, and each of them can be filtered by."""
    book = openpyxl.Workbook(write_only=True)
    for of in tables:
        sheet = book.create_sheet(NOT_IN_TITLE.sub("-", of.title)[:31])
        head = 2 if of.above else 1
        sheet.freeze_panes = f"A{head + 1}"
        last = f"{get_column_letter(len(of.headers))}{head + len(of.rows)}"
        sheet.auto_filter.ref = f"A{head}:{last}"
        for number, row in enumerate(_rows(of), 1):
            cells = [_workbook_cell(sheet, value) for value in row]
            if number == head:
                for cell in cells:
                    cell.font = BOLD
            sheet.append(cells)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _workbook_cell(sheet: Any, value: Value) -> Any:
    safe = safe_cell(value)
    if isinstance(safe, str):
        safe = NOT_IN_WORKBOOK.sub("", safe) or None
    return WriteOnlyCell(sheet, value=safe)


def _rows(of: Table) -> tuple[tuple[Value, ...], ...]:
    """The sentence above, filled up to the width of the rest, the headers, the rows."""
    above = ((of.above, *[""] * (len(of.headers) - 1)),) * bool(of.above)
    return (*above, of.headers, *of.rows)
