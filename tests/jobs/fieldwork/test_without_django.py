"""A record is read, judged and computed from JSON in an interpreter that has no Django."""

import json
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest

from jobs.fieldwork.facts_json import from_json, to_json
from jobs.fieldwork.sheet import read_sheet
from tests.conftest import NOW

from .generated import random_facts
from .reader import BARRED, digest, plain

HERE = Path(__file__).parent
ROOT = HERE.parents[2]
GENERATED = 200
#: rooms that a phone has
ROOMS = ("jobs/fieldwork", "jobs/wording", "equipment/engineering")
MODULES = sorted(
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    for room in ROOMS
    for path in (ROOT / room).rglob("*.py")
) + ["jobs.errors", "equipment.quantities"]


def read_elsewhere(rows):
    """What an interpreter without Django says to (moment, facts)."""
    lines = "".join(f"{moment.isoformat()}\t{to_json(facts)}\n" for moment, facts in rows)
    said = subprocess.run(
        [sys.executable, str(HERE / "reader.py")],
        input=lines,
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )
    assert said.returncode == 0, said.stderr[-2000:]
    return [json.loads(line) for line in said.stdout.splitlines()]


def differences(rows):
    """(sheets, lines, panels compared, the values that differ)."""
    here = [plain(digest(read_sheet(facts, now=moment))) for moment, facts in rows]
    there = read_elsewhere(rows)
    differing = [
        (number, name)
        for number, (mine, other) in enumerate(zip(here, there, strict=True))
        for name in mine
        if mine[name] != other[name]
    ]
    lines = sum(len(said["lines"]) for said in here)
    panels = sum(len(said["panels"]) for said in here)
    return len(here), lines, panels, differing


@pytest.mark.parametrize("module", MODULES)
def test_each_room_of_the_phone_is_imported_without_django(module, imported_alone):
    assert imported_alone[module] == "", module


@pytest.fixture(scope="module")
def imported_alone():
    """What importing each module says where the server's packages are missing; "" is well."""
    program = (
        "import importlib, json, sys\n"
        f"sys.path.insert(0, {str(HERE)!r})\n"
        "from reader import Barrier\n"
        "sys.meta_path.insert(0, Barrier())\n"
        "said = {}\n"
        f"for name in {MODULES!r}:\n"
        "    try:\n"
        "        importlib.import_module(name)\n"
        "        said[name] = ''\n"
        "    except ImportError as error:\n"
        "        said[name] = str(error)\n"
        "print(json.dumps(said))\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, cwd=ROOT, check=True
    )
    return json.loads(ran.stdout)


def test_the_barrier_is_one():
    program = f"import sys; sys.path.insert(0, {str(HERE)!r}); from reader import Barrier\n"
    for name in BARRED[:1]:
        tried = subprocess.run(
            [sys.executable, "-c", f"{program}sys.meta_path.insert(0, Barrier())\nimport {name}"],
            capture_output=True,
            text=True,
            check=False,
        )
        assert "is not here" in tried.stderr


def test_generated_records_are_the_same_after_json_and_without_django():
    rows = [(NOW + timedelta(minutes=n), random_facts(n)) for n in range(GENERATED)]
    assert [from_json(to_json(facts)) for _, facts in rows] == [facts for _, facts in rows]
    sheets, lines, panels, differing = differences(rows)
    assert (sheets, differing) == (GENERATED, [])
    assert lines > 20 * GENERATED
    assert panels > 5 * GENERATED
