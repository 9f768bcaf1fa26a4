"""A copy of the tree, and files of it that say something else for a while."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from .faults import ROOT, Fault


def copy_tree(folder: str) -> Path:
    leave = shutil.ignore_patterns("__pycache__", "var", ".venv", ".git", ".*_cache", ".hypothesis")
    return Path(shutil.copytree(ROOT, Path(folder) / "tree", ignore=leave))


@contextmanager
def planted(fault: Fault) -> Iterator[tuple[str, str]]:
    """The file says what the fault says; gives the text before and after."""
    target = Path(fault.path)
    before = target.read_text(encoding="utf-8")
    after = fault.planted_in(before)
    _write(target, after)
    try:
        yield before, after
    finally:
        _write(target, before)


def _write(target: Path, text: str) -> None:
    """The text, and no compiled form of the one before (two writes may share a second)."""
    target.write_text(text, encoding="utf-8")
    for compiled in target.parent.glob(f"__pycache__/{target.stem}.*"):
        compiled.unlink()
