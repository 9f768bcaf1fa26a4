"""Pint's own definitions of the units we list, and of nothing else.

Pint reads a thousand definitions when its registry starts: a quarter of a second in each process,
seconds on a phone. Our list reaches three dozen of them. They are found here in pint's file, from
the list down to the base units, and handed to pint as they stand: no factor is written in this
project, nothing is kept on disk. A test holds every conversion against pint's whole registry.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from importlib.resources import files

FILE = "default_en.txt"
#: blocks that hold no definition of a unit
BLOCKS = ("@defaults", "@context", "@system")
#: a name in an expression; not the e of 1e5, not a dimension such as [length]
_NAME = re.compile(r"(?<![\w.\[])[^\W\d]\w*")


def definitions_of(expressions: Iterable[str]) -> list[str]:
    """The lines of pint's file that define the units of these expressions, in its order."""
    lines = list(_definitions(FILE))
    known = {name: line for line in lines for name in _names(line)}
    prefixes = [name.removesuffix("-") for name in known if name.endswith("-")]
    found: set[str] = set()
    waiting = [name for text in expressions for name in _NAME.findall(text)]
    while waiting:
        for line in _lines_of(waiting.pop(), known, prefixes):
            if line not in found:
                found.add(line)
                waiting += _NAME.findall(_relation(line))
    return [line for line in lines if line in found]


def _definitions(file: str) -> Iterator[str]:
    """Every line "name = relation = symbol = alias" of a file and of those it imports."""
    skipping = False
    for line in files("pint").joinpath(file).read_text(encoding="utf-8").splitlines():
        line = line.partition("#")[0].strip()
        if line.startswith("@"):
            skipping = line.startswith(BLOCKS)
            if line.startswith("@import"):
                yield from _definitions(line.split()[1])
        elif "=" in line and not skipping:
            yield line


def _names(line: str) -> list[str]:
    """Name, symbol and aliases; those of a prefix end in a hyphen."""
    name, _, *others = (part.strip() for part in line.split("="))
    return [name, *others]


def _relation(line: str) -> str:
    """What it is defined by, without the offset of a temperature."""
    return line.split("=")[1].partition(";")[0]


def _lines_of(name: str, known: dict[str, str], prefixes: list[str]) -> list[str]:
    """The definition of a unit, or those of its prefix and of the unit behind it."""
    if name in known:
        return [known[name]]
    for prefix in prefixes:
        if name.startswith(prefix) and name[len(prefix) :] in known:
            return [known[f"{prefix}-"], known[name[len(prefix) :]]]
    raise LookupError(f"pint does not define {name}")
