"""The command that prints how far each calculation is from what was published."""

import io
from dataclasses import replace

import pytest
from django.core.management import CommandError, call_command

from equipment import published
from equipment.engineering.registry import load
from equipment.management.commands import checks_against_published as command


def printed():
    out = io.StringIO()
    call_command("checks_against_published", stdout=out)
    return out.getvalue()


def test_one_line_for_each_name_with_its_rows():
    lines = {line.split("  ")[0]: line for line in printed().splitlines()}
    for name in load():
        rows = [row for row in published.published_rows() if row.calculation == name]
        assert lines[name].split()[1] == str(len(rows)), name


def test_it_says_what_was_left_out_and_why():
    assert "148.88 gal/ft; digit slip" in printed()


def test_tables_with_columns_of_their_own_are_named():
    assert "disinfection_margins: " in printed()
    assert "left_out: " not in printed()


def test_a_row_outside_its_tolerance_ends_it_with_1(monkeypatch):
    row = published.published_rows()[0]
    wrong = replace(row, published="12345", tolerance=0.1)
    monkeypatch.setattr(command, "published_rows", lambda: [row, wrong])
    with pytest.raises(CommandError, match="published 12345") as refused:
        printed()
    assert refused.value.returncode == 1


def test_the_worst_row_is_the_one_furthest_off():
    row = next(row for row in published.published_rows() if row.is_number and row.mark == "SEEN")
    near, far = float(row.published) * 1.001, float(row.published) * 1.02
    cells = command.line_of(row.calculation, [(row, near), (replace(row, id="far"), far)])
    assert cells[1:5] == ("2", "0", "1", "2.00%")
    assert "far (SEEN)" in cells[6]


def test_a_word_has_no_deviation_and_must_be_the_same_word():
    row = replace(published.published_rows()[0], published="beads")
    assert row.agrees("Beads")
    assert not row.agrees("none")
    assert row.deviation("none") is None
    assert not row.agrees(None)
