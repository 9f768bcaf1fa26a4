"""Django and the tests loaded and collected once; a forked child for each fault swaps it in."""

from __future__ import annotations

import gc
import importlib
import pkgutil
import shutil
from abc import ABC, abstractmethod
from collections.abc import Callable
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from .children import BROKEN, OPTIONS, Witness, in_child
from .copied_tree import planted
from .faults import Fault
from .reach import PATIENCE, Reach, Tracer
from .swapping import CannotSwap, Living, swap

#: of the processor
HOURS = 8 * 3600
#: what a child says that could not swap the fault
IMPORTED = "takes effect at import"


class OnceCollected(ABC):
    """A pytest plugin: in place of the run there is `work`, with children that begin clean."""

    answer: Any = None

    def __init__(self) -> None:
        self.witness = Witness()

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session):
        if session.testsfailed:
            raise session.Failed("collecting")
        _load_everything()
        self.items = {item.nodeid: item for item in session.items}
        self.tests: dict[str, list[str]] = {}
        for test in self.items:
            self.tests.setdefault(test.partition("::")[0], []).append(test)
        self.living = Living()
        self.pristine = shutil.copytree(_data(), Path.cwd().parent / "pristine", dirs_exist_ok=True)
        gc.freeze()
        self.answer = self.work()
        return True

    def pytest_internalerror(self, excrepr):
        self.witness.names.append(str(excrepr))

    @abstractmethod
    def work(self) -> Any:
        """What is done with the collected tests, and what it answers."""

    def run_tests(self, tests: list[str]) -> list[str]:
        """The name of the first that fails."""
        for test, following in pairwise([*tests, ""]):
            self.run_test(test, following)
            if self.witness.names:
                break
        return self.witness.names[:1]

    def run_test(self, test: str, following: str) -> None:
        item, then = self.items[test], self.items.get(following)
        item.ihook.pytest_runtest_protocol(item=item, nextitem=then)

    def in_clean_child(self, work: Callable[[], Any], seconds: int) -> Any:
        """What a child leaves in the data folder goes with it."""
        said = in_child(work, seconds=seconds)
        shutil.rmtree(_data())
        shutil.copytree(self.pristine, _data())
        return said


class TraceAll(OnceCollected):
    """Answers what each test of its share of the files enters."""

    def __init__(self, faults: list[Fault], first: int, of: int) -> None:
        super().__init__()
        self.witness.seconds = HOURS  # noting is slow
        self.tracer, self.first, self.of = Tracer(faults), first, of

    def work(self) -> dict:
        tests = [
            test for file in list(self.tests)[self.first :: self.of] for test in self.tests[file]
        ]
        return self.in_clean_child(partial(self._trace, tests), HOURS)

    def _trace(self, tests: list[str]) -> dict:
        for test, following in pairwise([*tests, ""]):
            self.tracer.note(test, partial(self.run_test, test, following))
        return self.tracer.noted


class PlantAll(OnceCollected):
    """Answers for each fault what noticed, "" if nothing did, and all tests that may notice.

    A test that notices something is run once more with nothing planted. If it fails, it does not
    count.
    """

    def __init__(
        self, faults: list[Fault], reach: Reach, tell: Callable[[Fault, str], None]
    ) -> None:
        super().__init__()
        self.faults, self.reach, self.tell = faults, reach, tell
        self.trusted: set[str] = set()

    def work(self) -> list[tuple[str, list[str]]]:
        answers = []
        for fault in self.faults:
            name, tests = self._noticed(fault)
            near = [test for file in fault.near_tests for test in self.tests.get(file, ())]
            answers.append((name, list(dict.fromkeys([*tests, *near]))))
            if name and not name.startswith(IMPORTED):
                self.tell(fault, name)
        return answers

    def _noticed(self, fault: Fault) -> tuple[str, list[str]]:
        """What noticed, "" if nothing did; and the tests that were chosen."""
        while True:
            tests = self.reach.tests_for(fault, self.tests)
            name = self._noticing(fault, tests)
            known = name not in self.items or name in self.trusted
            if known or not self.in_clean_child(partial(self.run_tests, [name]), PATIENCE):
                self.trusted.add(name)
                return name, tests
            self.tests = {
                file: [test for test in those if test != name] for file, those in self.tests.items()
            }

    def _noticing(self, fault: Fault, tests: list[str]) -> str:
        with planted(fault) as (before, after):

            def work() -> list[str]:
                try:
                    swap(fault.path, before, after, self.living)
                except CannotSwap as reason:
                    return [f"{IMPORTED}: {reason}"]
                return self.run_tests(tests)

            said = self.in_clean_child(work, self.reach.seconds(tests))
        if isinstance(said, list):
            return said[0] if said else ""
        return f"{IMPORTED}: {said}" if said.startswith(BROKEN) else said


def run_loaded(tests: list[str], once: OnceCollected) -> Any:
    """In a child: its answer, or why there is none."""
    code = pytest.main([*OPTIONS, *tests], plugins=[once.witness, once])
    if code != pytest.ExitCode.OK:
        return f"{BROKEN} with {code!r} {once.witness.names[:1]}"
    return once.answer


def _data() -> Path:
    from django.conf import settings

    return settings.DATA_DIR


def _load_everything() -> None:
    """What a first page would load: every module and every template."""
    from django.conf import settings
    from django.template import loader

    for room in ("equipment", "jobs"):
        package = importlib.import_module(room)
        for module in pkgutil.walk_packages(package.__path__, f"{room}."):
            if ".migrations" not in module.name:
                importlib.import_module(module.name)
    for folder in settings.TEMPLATES[0]["DIRS"]:
        for template in Path(folder).rglob("*.html"):
            loader.get_template(str(template.relative_to(folder)))
