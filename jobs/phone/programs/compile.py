"""In the browser's Python: our code, and those files of its own library that it takes, compiled.

Of its library the files that are imported at the start come compiled; those that may be imported
later come as they are, and all others are left out.
"""

import runpy
import sys
from collections.abc import Iterator
from pathlib import Path

FIELD, MADE, PROGRAMS, LIBRARY = map(Path, ("/field", "/made", "/programs", "/library"))
#: beginnings of what is imported by name, by Python itself or while it runs
ENCODINGS = ("ascii", "idna", "latin_1", "punycode", "utf_")
BY_NAME = ("pyodide/", "_pyodide/", "_strptime", *(f"encodings/{name}" for name in ENCODINGS))

sys.path.insert(0, str(FIELD))
import encodings.cp437  # noqa: E402, F401  (zips are unpacked with it)

import jobs.phone.worker  # noqa: E402, F401

sys.argv = ["seen", str(FIELD), str(FIELD)]
runpy.run_path(str(PROGRAMS / "seen.py"))
files = [
    str(module.__file__) for module in list(sys.modules.values()) if getattr(module, "__file__", "")
]

import ast  # noqa: E402
import py_compile  # noqa: E402
import zipfile  # noqa: E402

PACKED = next(path for path in sys.path if path.endswith(".zip"))
UNCHECKED = py_compile.PycInvalidationMode.UNCHECKED_HASH


def compile_all(folder: Path, names: list[str], to: Path, called: str, level: int) -> None:
    for name in names:
        made = to / f"{name}c"
        made.parent.mkdir(parents=True, exist_ok=True)
        py_compile.compile(
            str(folder / name),
            str(made),
            f"{called}/{name}",
            doraise=True,
            optimize=level,
            invalidation_mode=UNCHECKED,
        )


def named_in(text: str) -> Iterator[str]:
    """Whatever is imported there, in functions too."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            yield from (each.name for each in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            yield node.module
            yield from (f"{node.module}.{each.name}" for each in node.names)


def files_of(module: str) -> Iterator[str]:
    """Where a module and the packages around it would stand."""
    while module:
        place = module.replace(".", "/")
        yield from (f"{place}.py", f"{place}/__init__.py")
        module = module.rpartition(".")[0]


with zipfile.ZipFile(PACKED) as archive:
    archive.extractall(LIBRARY)
there = {path.relative_to(LIBRARY).as_posix() for path in LIBRARY.rglob("*.py")}
seen = {file.removeprefix(f"{PACKED}/") for file in files} & there
ours = sorted(path.relative_to(FIELD).as_posix() for path in FIELD.rglob("*.py"))
texts = [(LIBRARY / name).read_text() for name in seen] + [
    (FIELD / name).read_text() for name in ours
]
asked = {file for text in texts for module in named_in(text) for file in files_of(module)}
asked |= {name for name in there if name.startswith(BY_NAME)}

compile_all(FIELD, ours, MADE / "field", "/field", 0)
compile_all(LIBRARY, sorted(seen), MADE / "library", PACKED, 2)  # nobody reads its help there
for name in sorted(asked & there - seen):
    place = MADE / "library" / name
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_bytes((LIBRARY / name).read_bytes())
