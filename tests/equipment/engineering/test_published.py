"""Every value of fixtures/published that belongs to a calculation, against our answer.

The source of each value stands in its row. The comparison is made in the row's own unit.
"""

import math
from collections import Counter

import pytest

from equipment.engineering.registry import compute
from equipment.engineering.results import Interval
from equipment.engineering.units import Quantity, unit

from .published_rows import FOLDER, MARKS, published_rows

ROWS = published_rows()


def answered(row):
    """Our value in the unit of the row; "key.low" and "key.high" name the ends of an interval."""
    name, _, end = row.result.partition(".")
    _, answer = compute(row.calculation, **row.inputs)
    value = getattr(answer, name)
    if isinstance(value, Interval):
        value = getattr(value, end)
    if isinstance(value, Quantity):
        return float(value.m_as(unit(row.unit) if row.unit else ""))
    return value


def is_number(text):
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_published_value(row):
    value = answered(row)
    assert value is not None, f"{row.result} is absent"
    if not is_number(row.published):
        assert str(value).lower() == row.published.lower()
        return
    assert abs(value - float(row.published)) <= row.tolerance * (1 + 1e-9) + 1e-12, (
        f"{row.source}: published {row.published} {row.unit}, ours {value:.6g}; {row.note}"
    )


def test_rows_are_well_formed():
    assert FOLDER.is_dir()
    for row in ROWS:
        assert row.mark in MARKS, row
        assert row.source.strip(), row
        assert row.published.strip(), row
        assert row.tolerance >= 0, row
        assert row.tolerance > 0 or not is_number(row.published) or row.note, row
    doubled = [key for key, n in Counter((row.table, row.id) for row in ROWS).items() if n > 1]
    assert doubled == []
