"""The tables of planted faults still fit the code: moved code takes its faults along."""

import ast
from pathlib import Path

import pytest
from django.conf import settings

from tests.mutants.faults import chosen, parts

ROOT = Path(settings.BASE_DIR)
ROWS = [row for rows in parts().values() for row in rows]


@pytest.mark.parametrize("path", sorted({row.path for row in ROWS}))
def test_each_fault_has_one_place_and_leaves_code_that_can_be_read(path):
    text = (ROOT / path).read_text()
    wrong = []
    for row in ROWS:
        if row.path != path:
            continue
        if text.count(row.old) != 1:
            wrong.append(f"{row.line}: stands there {text.count(row.old)} times")
        else:
            ast.parse(row.planted_in(text))
    assert wrong == []


def test_tests_named_as_near_are_there():
    missing = {name for row in ROWS for name in row.near_tests if not (ROOT / name).is_file()}
    assert missing == set()


def test_a_fault_changes_something_and_is_planted_once():
    assert [row.line for row in ROWS if row.old == row.new] == []
    assert len({row.line for row in ROWS}) == len(ROWS)


def test_all_shares_together_are_all_rows():
    found = [row for k in range(1, 11) for row in chosen(ROWS, share=f"{k}/10")]
    assert sorted(row.line for row in found) == sorted(row.line for row in ROWS)
    assert {row.path for row in found[: len(ROWS) // 10]} > {ROWS[0].path}
