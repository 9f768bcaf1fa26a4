"""A copy of the tree, a database made once, and for each fault a child process of its own."""

from __future__ import annotations

import importlib
import os
import resource
import shutil
import signal
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest

from . import copied_database
from .copied_database import TEMPLATE
from .faults import ENGINEERING, ROOT, Fault

#: of the processor for the tests that are near and for all: a change may make a search endless
SECONDS, SECONDS_FOR_ALL = 300, 1500
#: of the clock, on a busy machine
PATIENCE = 3 * 3600
#: passes while nothing is planted, and needs the database
UNTOUCHED = "tests/jobs/test_booking.py"
OPTIONS = ("-x", "-q", "-p", "no:cacheprovider", "-W", "ignore::pytest.PytestAssertRewriteWarning")
#: begins what a child says that did not come as far as a test
BROKEN = "pytest ended"
#: slow to load and not ours: loaded once, before the children are forked
LIBRARIES = (
    *("celery", "dateutil.rrule", "holidays", "icalendar", "kombu", "phonenumbers", "tablib"),
    *("django.core.management", "django.db.models", "django.forms", "django.template.engine"),
    *("django.test", "hypothesis.strategies", "pint", "pytest_django", "rapidfuzz.process"),
    f"{ENGINEERING.replace('/', '.')}.registry",
)


class Witness:
    """A pytest plugin that remembers which test failed first."""

    name = ""

    def pytest_configure(self, config):
        config.pluginmanager.register(copied_database)  # after what it replaces

    def pytest_runtest_logreport(self, report):
        if report.failed and not self.name:
            self.name = report.nodeid.split("/")[-1]

    def pytest_collectreport(self, report):
        if report.failed and not self.name:
            self.name = f"{report.nodeid.split('/')[-1]} (import)"


def copy_tree(folder: str) -> Path:
    leave = shutil.ignore_patterns("__pycache__", "var", ".venv", ".git", ".*_cache", ".hypothesis")
    return Path(shutil.copytree(ROOT, Path(folder) / "tree", ignore=leave))


def prepare() -> None:
    """In the copy: what every child needs, loaded and made once."""
    os.environ.pop("DATABASE_URL", None)
    os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings_test"
    tempfile.tempdir = str(Path.cwd().parent)  # what children leave goes with the copy
    for name in LIBRARIES:
        importlib.import_module(name)
    if said := _in_child(_make_template) or _in_child(lambda: _first_failure([UNTOUCHED])):
        raise SystemExit(f"Without a fault it fails as well: {said}")


def caught_by(fault: Fault, *, only_near: bool = False) -> str:
    """The test that noticed, "" if none did."""
    target = Path(fault.path)
    text = target.read_text(encoding="utf-8")
    _write(target, fault.planted_in(text))
    try:
        said = _in_child(lambda: _failing_test(fault, only_near))
    finally:
        _write(target, text)
    if said.startswith(BROKEN):
        raise SystemExit(f"{fault.line}: no test ran, {said}")
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


def _failing_test(fault: Fault, only_near: bool) -> str:
    if fault.path.startswith(ENGINEERING):
        _forget_engineering(fault.path)
    if noticed := _first_failure(fault.near_tests):
        return noticed
    # of a row that stays nothing else is to be expected
    if only_near or fault.stays:
        return ""
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS_FOR_ALL, SECONDS_FOR_ALL))
    return _first_failure([fault.folder])


def _first_failure(tests: list[str]) -> str:
    witness = Witness()
    code = pytest.main([*OPTIONS, *tests], plugins=[witness])
    if code not in (pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED) and not witness.name:
        return f"{BROKEN} with {code!r}"
    return witness.name


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


def _in_child(work: Callable[[], str]) -> str:
    """What a forked child says; it is quiet, and ends even if a search does not."""
    told, tell = os.pipe()
    child = os.fork()
    if not child:
        resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS_FOR_ALL))
        signal.alarm(PATIENCE)
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        try:
            said = work()
        except BaseException as error:
            said = f"{BROKEN} with {type(error).__name__}: {error}"
        os.write(tell, said.encode())
        os._exit(0)
    os.close(tell)
    with os.fdopen(told) as answer:
        said = answer.read()
    ended_early = os.waitpid(child, 0)[1]
    return said or ("no end" if ended_early else "")


def _write(target: Path, text: str) -> None:
    """The text, and no compiled form of the one before (two writes may share a second)."""
    target.write_text(text, encoding="utf-8")
    for compiled in target.parent.glob(f"__pycache__/{target.stem}.*"):
        compiled.unlink()
