"""What runs on a phone, packed: field.zip (our code and its libraries), templates.zip (the engine),
standard.zip (what they take of Python's own library, where it could be compiled).

The same installed files make the same two files, and their names say what they hold. Of Django
those files are taken that the engine is seen to import, so that an upgrade leaves none out.
"""

from __future__ import annotations

import hashlib
import json
import re
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from importlib.metadata import PackagePath, distribution
from io import BytesIO
from pathlib import Path

from . import live, whole
from .compiling import PROGRAMS, Files
from .engine import ADDRESSES, TEMPLATES
from .runtime import brotli

ROOT = Path(__file__).resolve().parents[2]
#: our own: files and whole folders
OURS = (
    "jobs/__init__.py",
    "jobs/errors.py",
    "jobs/wording",
    "jobs/fieldwork",
    "jobs/phone",
    "equipment/__init__.py",
    "equipment/quantities.py",
    "equipment/engineering",
)
NOT_NEEDED = tuple(
    f"jobs/phone/{name}" for name in ("building.py", "compiling.py", "runtime.py", "programs/")
)
#: what units are read with, whole but for tests: it imports by name while it runs
LIBRARIES = ("pint", "flexcache", "flexparser", "platformdirs", "typing_extensions")
#: what the template engine is made of
ENGINE = ("django", "asgiref")
FIELD_ZIP, TEMPLATES_ZIP, STANDARD_ZIP = "field.zip", "templates.zip", "standard.zip"
MANIFEST = "phone.json"
#: what is unpacked at once is sent whole with brotli, which packs better; the other one is read
#: from as long as Python runs, and lies in the phone's memory as it is sent
HOW = {FIELD_ZIP: zipfile.ZIP_STORED, TEMPLATES_ZIP: zipfile.ZIP_STORED}
HOW[STANDARD_ZIP] = zipfile.ZIP_DEFLATED
BROTLI = ".br"
#: templates that tags name
DRAWN = ("parts/_timer.html", "parts/_bands.html")
#: the same on every day
DAY = (1980, 1, 1, 0, 0, 0)
#: name of a page's address to its pattern and the names in it
Addresses = Callable[[str], tuple[str, list[str]]]
#: all files to the same compiled, and what they take of Python's own library
Compiled = Callable[[Files], tuple[Files, Files]]


def build(folder: Path, addresses: Addresses, compiled: Compiled | None = None) -> dict[str, str]:
    """Packs these files into a folder, under names that say what they hold; what they are called.

    Without what compiles them a phone gets the sources, and its own Python's whole library.
    """
    templates = template_files(addresses)
    parts = {FIELD_ZIP: field_files(), TEMPLATES_ZIP: templates | engine_files(templates)}
    if compiled:
        parts = _compiled(parts, compiled)
    packed = {name: pack(files, HOW[name]) for name, files in parts.items()}
    names = {name: _named(name, content) for name, content in packed.items()}
    for name, content in packed.items():
        if not (folder / names[name]).exists():
            if HOW[name] == zipfile.ZIP_STORED:
                _write(folder / f"{names[name]}{BROTLI}", brotli(content))
            _write(folder / names[name], content)
    _write(folder / MANIFEST, json.dumps(names).encode())
    for former in (*folder.glob("*.zip"), *folder.glob(f"*.zip{BROTLI}")):
        if former.name.removesuffix(BROTLI) not in names.values():
            former.unlink()
    return names


def _compiled(parts: dict[str, Files], compiled: Compiled) -> dict[str, Files]:
    made, standard = compiled({at: text for files in parts.values() for at, text in files.items()})
    ours = {
        name: {at: text for at, text in made.items() if at in files or at[:-1] in files}
        for name, files in parts.items()
    }
    return ours | {STANDARD_ZIP: standard}


def _write(place: Path, content: bytes) -> None:
    """Whole or not at all: it may be served already."""
    draft = place.with_name(f"{place.name}.draft")
    draft.write_bytes(content)
    draft.replace(place)


def packed_in(folder: Path) -> dict[str, str]:
    """How both files are called there; nothing where they were not packed."""
    try:
        names: dict[str, str] = json.loads((folder / MANIFEST).read_text())
    except (OSError, ValueError):
        return {}
    return names if all((folder / name).is_file() for name in names.values()) else {}


def _named(name: str, content: bytes) -> str:
    stem, _, ending = name.partition(".")
    return f"{stem}.{hashlib.sha256(content).hexdigest()[:12]}.{ending}"


def pack(files: Files, how: int = zipfile.ZIP_STORED) -> bytes:
    """A zip of these files that depends on them alone."""
    made = BytesIO()
    with zipfile.ZipFile(made, "w", how, compresslevel=9) as archive:
        for name in sorted(files):
            entry = zipfile.ZipInfo(name, DAY)
            entry.compress_type, entry.external_attr = how, 0o644 << 16
            archive.writestr(entry, files[name])
    return made.getvalue()


def field_files() -> Files:
    """Our own code, and the libraries that units are read with."""
    found = {}
    for name in OURS:
        place = ROOT / name
        for path in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            found[path.relative_to(ROOT).as_posix()] = path.read_bytes()
    ours = {name: content for name, content in found.items() if not name.startswith(NOT_NEEDED)}
    return ours | {name: content for library in LIBRARIES for name, content in _whole(library)}


def _whole(library: str) -> Iterator[tuple[str, bytes]]:
    """An installed package without its tests, with its licence."""
    installed = distribution(library)
    for file in installed.files or ():
        is_code = file.suffix in (".py", ".txt") and not file.parts[0].endswith(".dist-info")
        if _is_licence(file) or (is_code and "testsuite" not in file.parts):
            yield file.as_posix(), Path(str(file.locate())).read_bytes()


def _is_licence(file: PackagePath) -> bool:
    is_about = file.parts[0].endswith(".dist-info")
    return is_about and file.name.upper().startswith(("LICEN", "COPYING"))


def template_files(addresses: Addresses) -> Files:
    """The parts of pages that are rendered there with all they include, and their addresses."""
    found: Files = {}
    waiting = [*live.PARTIALS, *whole.PARTIALS, *DRAWN]
    while waiting:
        name = waiting.pop()
        if f"{TEMPLATES}/{name}" not in found:
            content = (ROOT / TEMPLATES / name).read_bytes()
            found[f"{TEMPLATES}/{name}"] = content
            waiting += re.findall(r'{% include "([^"]+)"', content.decode())
    text = b"".join(found.values()).decode()
    names = sorted(set(re.findall(r"{% url '([\w-]+)'", text)))
    found[ADDRESSES] = json.dumps({name: addresses(name) for name in names}).encode()
    return found


def engine_files(templates: Files) -> Files:
    """What the engine imports, and the licences it is under."""
    seen = {Path(line) for line in traced(templates)}
    return {
        file.as_posix(): Path(str(file.locate())).read_bytes()
        for name in ENGINE
        for file in distribution(name).files or ()
        if _is_licence(file) or Path(str(file.locate())) in seen
    }


def traced(templates: Files) -> list[str]:
    """The files of everything that a program imports that only fills templates."""
    with tempfile.TemporaryDirectory() as folder:
        for name, content in templates.items():
            place = Path(folder) / name
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(content)
        ran = subprocess.run(
            [sys.executable, "-I", str(PROGRAMS / "seen.py"), folder, str(ROOT)],
            capture_output=True,
            text=True,
        )
    if ran.returncode:
        raise RuntimeError(f"The templates of the phone cannot be filled:\n{ran.stderr}")
    return ran.stdout.splitlines()
