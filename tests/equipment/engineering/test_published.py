"""Every value of fixtures/published that belongs to a calculation, against our answer.

The source of each value stands in its row. The comparison is made in the row's own unit.
"""

import json
from collections import Counter
from dataclasses import replace

import pytest

from .published_rows import FOLDER, MARKS, Published, published_rows, table_rows

ROWS = published_rows()
WRONG = [row for row in table_rows("left_out") if row["inputs"]]


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_published_value(row):
    value = row.answered()
    assert value is not None, f"{row.result} is absent"
    assert row.agrees(value), (
        f"{row.source}: published {row.published} {row.unit}, ours {value}; {row.note}"
    )


def test_rows_are_well_formed():
    assert FOLDER.is_dir()
    for row in ROWS:
        assert row.mark in MARKS, row
        assert row.source.strip(), row
        assert row.published.strip(), row
        assert row.tolerance >= 0, row
        assert row.tolerance > 0 or not row.is_number or row.note, row
    doubled = [key for key, n in Counter((row.table, row.id) for row in ROWS).items() if n > 1]
    assert doubled == []


@pytest.mark.parametrize("out", WRONG, ids=lambda out: out["id"])
def test_a_printed_error_is_not_ours(out):
    """Further from ours than the last digit printed could explain."""
    names = set(Published.__dataclass_fields__)
    shown = {name: text for name, text in out.items() if name in names}
    shown["inputs"] = json.loads(out["inputs"])
    row = Published(table="left_out", tolerance=0, note=out["why"], **shown)
    digits = len(out["published"].partition(".")[2])
    assert not replace(row, tolerance=10.0**-digits).agrees(row.answered())
