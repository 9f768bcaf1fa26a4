"""What a row of the tables is, and which rows were asked for."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from . import tables

ROOT = Path(__file__).parents[2]
ENGINEERING = "equipment/engineering"


@dataclass(frozen=True)
class Fault:
    path: str
    #: stands in the file exactly once
    old: str
    new: str
    #: names of the files of tests that are likeliest to notice
    near: tuple[str, ...]
    #: why nobody could notice; such a row may survive
    stays: str = ""

    @property
    def folder(self) -> str:
        """Where its tests are."""
        return f"tests/{ENGINEERING if self.path.startswith(ENGINEERING) else 'jobs'}"

    @property
    def near_tests(self) -> list[str]:
        """The name before the last slash is a folder of tests: "mail/letters"."""
        heads = [name.rpartition("/") for name in self.near]
        return [f"{self.folder}/{head}{slash}test_{tail}.py" for head, slash, tail in heads]

    @property
    def line(self) -> str:
        return f"{self.path}: {self.old} -> {self.new}".replace("\n", "\\n")

    def planted_in(self, text: str) -> str:
        if text.count(self.old) != 1:
            raise SystemExit(f"{self.line}: stands there {text.count(self.old)} times, not once")
        return text.replace(self.old, self.new)


def in_file(path: str, near: str, *rows: tuple[str, ...]) -> list[Fault]:
    """Rows of one file, each (what stands there, what is put in its place[, why it stays])."""
    return [Fault(path, row[0], row[1], tuple(near.split()), *row[2:]) for row in rows]


def parts() -> dict[str, list[Fault]]:
    """Name of a part and its rows; tables with the same first word are one part."""
    found: dict[str, list[Fault]] = {}
    for module in sorted(each.name for each in pkgutil.iter_modules(tables.__path__)):
        rows = importlib.import_module(f"{tables.__name__}.{module}").FAULTS
        found.setdefault(module.partition("_")[0], []).extend(rows)
    return found


def chosen(
    rows: Iterable[Fault], *, words: Iterable[str] = ("",), share: str = "1/1"
) -> list[Fault]:
    """Rows that hold one of the words; of these the k-th of each n ("k/n"), a fixed spread."""
    wanted = [row for row in rows if any(word in row.line for word in words)]
    first, _, of = share.partition("/")
    return wanted[int(first) - 1 :: int(of)]
