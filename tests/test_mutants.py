"""The tables of planted faults fit the code, and what is planted is what runs."""

import ast
import importlib
import sys
from pathlib import Path

import pytest
from django.conf import settings

from tests.mutants.faults import chosen, in_file, parts
from tests.mutants.reach import Reach, place_of
from tests.mutants.swapping import CannotSwap, Living, swap

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


HOUSE = """
def passed_on(inner):
    return lambda *given: inner(*given)
LIMIT, STEP = 5, 2
TWICE = STEP * 2
class Tank:
    size = 10
    @property
    def half(self):
        return self.size / 2
    @staticmethod
    @passed_on
    def inner(x):
        return [n + 1 for n in range(x)]
def over(x, by=1):
    def closer():
        return x > LIMIT
    return closer()
"""


@pytest.fixture
def house(tmp_path, monkeypatch):
    """A module of its own, and another one that took names from it."""
    (tmp_path / "tests_house.py").write_text(HOUSE)
    (tmp_path / "tests_guest.py").write_text("from tests_house import LIMIT, over")
    monkeypatch.chdir(tmp_path)
    monkeypatch.syspath_prepend(str(tmp_path))
    importlib.invalidate_caches()
    yield importlib.import_module("tests_house"), importlib.import_module("tests_guest")
    for name in ("tests_house", "tests_guest"):
        del sys.modules[name]


@pytest.mark.parametrize(
    ("old", "new", "place", "seen"),
    [
        (
            "self.size / 2",
            "self.size / 5",
            "Tank.half",
            lambda house, guest: house.Tank().half == 2,
        ),
        ("[n + 1", "[n + 2", "Tank.inner", lambda house, guest: house.Tank.inner(1) == [2]),
        ("x > LIMIT", "x < LIMIT", "over", lambda house, guest: guest.over(1)),
        ("STEP = 5", "STEP = 7", "", lambda house, guest: (house.LIMIT, guest.LIMIT) == (7, 7)),
    ],
)
def test_a_fault_takes_the_place_of_what_runs(house, old, new, place, seen):
    [fault] = in_file("tests_house.py", "house", (old, new))
    assert not seen(*house)
    swap(fault.path, HOUSE, fault.planted_in(HOUSE), Living())
    assert seen(*house)
    assert place_of(fault) == f"tests_house.py::{place}".removesuffix("::")


@pytest.mark.parametrize(
    ("old", "new"), [("size = 10", "size = 9"), ("STEP = 5, 2", "STEP = 5, 3"), ("by=1", "by=2")]
)
def test_what_took_effect_at_import_is_not_swapped(house, old, new):
    with pytest.raises(CannotSwap):
        swap("tests_house.py", HOUSE, HOUSE.replace(old, new), Living())
    assert (house[0].Tank.size, house[0].STEP, house[0].TWICE) == (10, 2, 4)


def test_the_near_and_quick_tests_that_enter_it_come_first(house):
    [fault] = in_file("tests_house.py", "b", ("x > LIMIT", "x < LIMIT"))
    a, b = "tests/jobs/test_a.py", "tests/jobs/test_b.py"
    noted = {"a1": (1, [place_of(fault)]), "b1": (9, [place_of(fault)]), "b2": (2, ["else"])}
    noted["b3"] = (3, [place_of(fault)])
    collected = {a: ["a1"], b: ["b1", "b2", "b3", "new"]}
    assert Reach(noted).tests_for(fault, collected) == ["new", "b3", "b1", "a1"]
    assert Reach({}).tests_for(fault, collected) == ["b1", "b2", "b3", "new"]
    [moved] = in_file("tests_house.py", "b", ("self.size / 2", "self.size / 3"))
    assert Reach(noted).tests_for(moved, collected) == ["new", "b2", "b3", "b1"]
