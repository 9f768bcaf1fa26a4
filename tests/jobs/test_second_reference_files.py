"""Workbooks of the callback report, opened by two readers that share no code.

openpyxl (Python) and calamine (Rust) are asked for every cell of every sheet; what they find is
also what the page's own file as CSV says.
"""

import csv
import io
from datetime import date, datetime

import openpyxl
import pytest

from jobs.reports.callback_files import rules
from jobs.reports.callback_jobs import Selection
from tests.jobs.random_company import BEGIN, TODAY, build_company
from tests.jobs.test_exports import PERIOD, _address

pytestmark = [pytest.mark.second_reference, pytest.mark.django_db]
ASKED = {
    "people": {},
    "jobs": {"of": "jobs"},
    "callbacks": {"of": "jobs", "what": "callbacks"},
    "judgeable of a kind": {"of": "jobs", "what": "judgeable", "kind": "other"},
}


def _day(value):
    return value.date() if isinstance(value, datetime) else value


def _by_openpyxl(content):
    book = openpyxl.load_workbook(io.BytesIO(content))
    return {
        sheet.title: [["" if c.value is None else _day(c.value) for c in row] for row in sheet]
        for sheet in book
    }


def _by_calamine(content):
    from python_calamine import CalamineWorkbook

    book = CalamineWorkbook.from_filelike(io.BytesIO(content))
    return {
        name: [[_day(cell) for cell in row] for row in book.get_sheet_by_name(name).to_python()]
        for name in book.sheet_names
    }


def _as_text(value):
    return f"{value:g}" if isinstance(value, int | float) else str(value)


def _number(text):
    try:
        return f"{float(text):g}"
    except ValueError:
        return text


def _file(client, kind, words):
    answer = client.get(_address("callbacks-export", **PERIOD, **words, **{"as": kind}))
    assert answer.status_code == 200
    return answer.content


def test_two_readers_find_the_same_in_every_cell(owner_client, monkeypatch):
    monkeypatch.setattr("jobs.views.callbacks.company_day", lambda now: TODAY)
    build_company(7, houses=6, jobs=16)
    lengths = {}
    for name, words in ASKED.items():
        content = _file(owner_client, "xlsx", words)
        one, other = _by_openpyxl(content), _by_calamine(content)
        assert one == other
        first, definitions = one.values()
        lengths[name] = len(first)
        text = _file(owner_client, "csv", words).decode("utf-8-sig")
        told = list(csv.reader(io.StringIO(text, newline="")))
        assert [[_number(cell) for cell in row] for row in told] == [
            [_number(_as_text(cell)) for cell in row] for row in first
        ]
        selection = Selection(BEGIN, TODAY, 90, TODAY)
        assert [tuple(row) for row in definitions] == [
            ("Word", "What it means here"),
            *rules(selection),
        ]
        _formats(content, first)
    assert lengths["jobs"] > lengths["callbacks"] > 2, "what was narrowed holds fewer lines"
    assert lengths["jobs"] > lengths["judgeable of a kind"] > 2


def _formats(content, rows):
    """A day is a day, a number a number; below the sentence stands the row that filters."""
    sheet = openpyxl.load_workbook(io.BytesIO(content)).worksheets[0]
    kinds = set()
    for row in sheet.iter_rows(min_row=3):
        for cell in row:
            if isinstance(cell.value, date):
                assert cell.number_format == "yyyy-mm-dd"
            elif isinstance(cell.value, int | float):
                assert (cell.data_type, cell.number_format) == ("n", "General")
            elif cell.value is not None:
                assert cell.data_type == "s"
            kinds.add(type(cell.value).__name__)
    assert {"int", "str"} <= kinds
    assert sheet.freeze_panes == "A3"
    assert sheet.auto_filter.ref == f"A2:{sheet.cell(len(rows), len(rows[0])).coordinate}"
    assert all(cell.font.bold for cell in sheet[2])
