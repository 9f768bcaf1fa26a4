"""The two ways of a fault: swapped into what is loaded, or with all imported anew."""

from __future__ import annotations

import importlib
import os
import shutil
import sys
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from .children import BROKEN, OPTIONS, Witness, in_child
from .copied_database import TEMPLATE
from .copied_tree import planted
from .faults import ENGINEERING, Fault
from .loaded import HOURS, IMPORTED, PlantAll, TraceAll, run_loaded
from .reach import PATIENCE, Reach

#: passes while nothing is planted, and needs the database
UNTOUCHED = "tests/jobs/test_booking.py"
#: slow to load and not ours: loaded once, before the children are forked
LIBRARIES = (
    *("celery", "dateutil.rrule", "holidays", "icalendar", "kombu", "openpyxl", "phonenumbers"),
    *("django.core.management", "django.db.models", "django.forms", "django.template.engine"),
    *("django.test", "hypothesis.strategies", "pint", "pytest_django", "rapidfuzz.process"),
    f"{ENGINEERING.replace('/', '.')}.registry",
)
#: of a fault and the test that noticed, "" if none did
Tell = Callable[[Fault, str], None]


def prepare() -> None:
    """In the copy: what every child needs, loaded and made once."""
    os.environ.pop("DATABASE_URL", None)
    os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings_test"
    tempfile.tempdir = str(Path.cwd().parent)  # what children leave goes with the copy
    for name in LIBRARIES:
        importlib.import_module(name)
    if said := in_child(_make_template, seconds=PATIENCE):
        raise SystemExit(f"No database: {said}")
    if said := in_child(partial(_first_failure, [UNTOUCHED]), seconds=PATIENCE):
        raise SystemExit(f"Without a fault it fails as well: {said}")


def trace(faults: list[Fault], first: int, of: int) -> dict:
    """What the tests enter of what these faults change, of each n-th file of tests."""
    folders = sorted({fault.folder for fault in faults})
    return _said(in_child(lambda: run_loaded(folders, TraceAll(faults, first, of)), seconds=HOURS))


def run(faults: list[Fault], reach: Reach, tell: Tell, *, only_near: bool) -> None:
    """Tells of each fault once: swapped first, else (or if nothing notices) imported anew."""
    near = {test for fault in faults for test in fault.near_tests}
    tests = near if only_near else {fault.folder for fault in faults}
    once = PlantAll(faults, reach, tell)
    answers = _said(in_child(lambda: run_loaded(sorted(tests), once), seconds=HOURS))
    for fault, (answer, chosen) in zip(faults, answers, strict=True):
        if not answer or answer.startswith(IMPORTED):
            with planted(fault):
                work = partial(_imported_anew, fault, chosen)
                test = in_child(work, seconds=reach.seconds(chosen))
            if test.startswith(BROKEN):
                raise SystemExit(f"{fault.line}: no test ran, {test}")
            tell(fault, test)


def _said(said: Any) -> Any:
    if isinstance(said, str):
        raise SystemExit(said)
    return said


def _make_template() -> str:
    """Named outright: a database in memory could not be copied."""
    import django
    from django.db import connection
    from django.test.utils import setup_databases

    django.setup()
    setup_databases(verbosity=0, interactive=False)
    kept = connection.settings_dict["NAME"]
    connection.close()
    shutil.copy(kept, TEMPLATE)
    return ""


def _imported_anew(fault: Fault, tests: list[str]) -> str:
    if fault.path.startswith(ENGINEERING):
        _forget_engineering(fault.path)
    return _first_failure(tests) if tests else ""


def _first_failure(tests: list[str]) -> str:
    witness = Witness()
    code = pytest.main([*OPTIONS, *tests], plugins=[witness])
    if code not in (pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED) and not witness.names:
        return f"{BROKEN} with {code!r}"
    return witness.names[0] if witness.names else ""


def _forget_engineering(path: str) -> None:
    """It is imported anew; the ground with the unit registry only if that changed."""
    ground = ("definitions", "units", "errors", "results")
    kept = {f"{ENGINEERING.replace('/', '.')}.{name}" for name in ground}
    changed = path.removesuffix(".py").replace("/", ".")
    for name in list(sys.modules):
        ours = name.startswith(("equipment.engineering.", "equipment.published"))
        if ours and (changed in kept or name not in kept):
            del sys.modules[name]
            package, _, attribute = name.rpartition(".")
            vars(sys.modules[package]).pop(attribute, None)
