"""What a phone would compile at every start, compiled once by the Python that will run it.

That Python runs here in node as it does in a browser. What it made of the same files is kept
beside the runtime, so a machine compiles them once.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from . import runtime

Files = dict[str, bytes]
PROGRAMS = Path(__file__).with_name("programs")
#: folders of what is made
FIELD, LIBRARY = "field", "library"
LONGEST_SECONDS = 240


def compiled(files: Files) -> tuple[Files, Files]:
    """The same files with every module compiled, and what they take of Python's own library.

    Raises NotHad where the runtime or node is not here.
    """
    made = runtime.FOLDER.with_name("compiled") / _named(files)
    if not made.is_dir():
        _make(files, made)
    modules = _read(made / FIELD)
    others = {name: content for name, content in files.items() if f"{name}c" not in modules}
    return modules | others, _read(made / LIBRARY) | {
        runtime.LICENCE: (runtime.HERE / runtime.LICENCE).read_bytes()
    }


def _named(files: Files) -> str:
    """Another name where a file, the runtime or what compiles is another."""
    sums = hashlib.sha256(runtime.SUMS.read_bytes())
    programs = {path.name: path.read_bytes() for path in PROGRAMS.glob("*.*")}
    for name, content in sorted((files | programs).items()):
        sums.update(f"{name} {hashlib.sha256(content).hexdigest()}\n".encode())
    return sums.hexdigest()[:16]


def _make(files: Files, made: Path) -> None:
    """In a folder of its own that takes its name when it is whole; the former ones go."""
    made.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="draft-", dir=made.parent) as draft:
        sources, whole = Path(draft) / "sources", Path(draft) / "whole"
        for name, content in files.items():
            place = sources / name
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(content)
        whole.mkdir()
        _run(sources, whole)
        for former in made.parent.iterdir():
            if former != made and not former.name.startswith("draft-"):
                shutil.rmtree(former, ignore_errors=True)
        if not made.is_dir():  # nobody was faster
            os.replace(whole, made)


def _run(sources: Path, whole: Path) -> None:
    program = [*runtime.borrowed("node"), str(PROGRAMS / "compile.mjs")]
    try:
        ran = subprocess.run(
            [*program, str(runtime.HERE), str(sources), str(whole)],
            capture_output=True,
            text=True,
            timeout=LONGEST_SECONDS,
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise runtime.NotHad(f"node did not run: {error}") from error
    if ran.returncode:
        said = [line for line in ran.stderr.splitlines() if line.strip()]
        raise runtime.NotHad(f"node could not compile: {said[-1][:200] if said else 'no reason'}")


def _read(folder: Path) -> Files:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
