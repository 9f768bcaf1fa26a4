"""Which tests enter what a fault changes, and how long each takes: from one run without a fault."""

from __future__ import annotations

import ast
import os
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from functools import cache
from pathlib import Path

from .faults import Fault

#: of the processor; a search that has no end is ended after so many times what its tests took
PATIENCE, TIMES = 120, 5
#: of the tests that are not near, the quick ones that take so long together
FAR_SECONDS = 30.0


def place_of(fault: Fault) -> str:
    """The function that it changes ("path::Class.name"), its file if it takes effect at import."""
    text = Path(fault.path).read_text(encoding="utf-8")
    same = len(os.path.commonprefix([fault.old, fault.new]))
    line = text.count("\n", 0, text.index(fault.old) + same) + 1
    for name, first, last in _functions(fault.path):
        if first <= line <= last:
            return f"{fault.path}::{name}"
    return fault.path


class Tracer:
    """Notes of each test the seconds it took and the places it entered."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.places = {place_of(fault) for fault in faults}
        self.noted: dict[str, tuple[float, list[str]]] = {}

    def note(self, test: str, run: Callable[[], None]) -> None:
        entered: set[tuple[str, str]] = set()

        def look(frame, event, argument):
            entered.add((frame.f_code.co_filename, frame.f_code.co_qualname))

        begun = time.process_time()
        sys.settrace(look)
        threading.settrace(look)
        try:
            run()
        finally:
            sys.settrace(None)
            threading.settrace(None)
        seconds, root = time.process_time() - begun, f"{Path.cwd()}/"
        ours = {(file.removeprefix(root), name) for file, name in entered if file.startswith(root)}
        # what a function made while modules were loaded is the function
        names = {f"{file}::{name.partition('.<locals>')[0]}" for file, name in ours}
        self.noted[test] = seconds, sorted((names | {file for file, _ in ours}) & self.places)


class Reach:
    """What was noted, or nothing: then only near tests are known, and none by its place."""

    def __init__(self, noted: dict[str, tuple[float, list[str]]]) -> None:
        self._noted = noted
        #: what the first test of a file makes for all of it, each of them makes if it runs alone
        self._first: dict[str, float] = {}
        for test, (seconds, _) in noted.items():
            self._first.setdefault(test.partition("::")[0], seconds)
        self._places = {place for _, places in noted.values() for place in places}

    def seconds(self, tests: Iterable[str]) -> int:
        """Of the processor, at most."""
        return PATIENCE + int(TIMES * sum(self._noted.get(test, (1, ()))[0] for test in tests))

    def tests_for(self, fault: Fault, collected: dict[str, list[str]]) -> list[str]:
        """By file: what is near first, the quick ones first; what nothing is known of is tried."""
        place, near = place_of(fault), fault.near_tests
        whole = place == fault.path or place not in self._places  # code that moved since
        found, far = [], []
        for file, tests in collected.items():
            is_near = file in near
            for test in tests:
                seconds, places = self._noted.get(test, (0.0, ()))
                row = (max(seconds, self._first.get(file, 0.0)), is_near and near.index(file), test)
                if is_near and (whole or place in places or test not in self._noted):
                    found.append(row)
                elif place in places and not fault.stays:  # if it stays nothing is to be expected
                    far.append(row)
        left = FAR_SECONDS
        for row in sorted(far):
            left -= row[0]
            if left > 0:
                found.append((FAR_SECONDS + row[0], *row[1:]))
        return [test for *_, test in sorted(found, key=lambda row: row[:2])]


@cache
def _functions(path: str) -> list[tuple[str, int, int]]:
    """Name and lines of the inside of each function that is in no other."""
    tree = ast.parse(Path(path).read_text(encoding="utf-8"))
    return [
        (name, node.body[0].lineno, node.end_lineno or 0) for name, node in _outermost(tree, "")
    ]


def _outermost(node: ast.AST, before: str) -> Iterator[tuple[str, ast.FunctionDef]]:
    for each in ast.iter_child_nodes(node):
        if isinstance(each, ast.FunctionDef):
            yield f"{before}{each.name}", each
        else:
            name = f"{before}{each.name}." if isinstance(each, ast.ClassDef) else before
            yield from _outermost(each, name)
