"""Sizes and marks the house style sets limits to."""

import ast
import re
import subprocess
from pathlib import Path

import pytest
from django.conf import settings

from equipment.engineering.registry import load

ROOT = Path(settings.BASE_DIR)
FOLDERS = ("config", "equipment", "jobs", "templates", "tests")
#: lines as the formatter breaks them
FILE_LINES, FUNCTION_LINES, VIEW_LINES = 400, 50, 25
#: facts that travel together are a dataclass; the arguments of a calculation are its keys
ARGUMENTS = 8
#: tables that are read by column; everything else is the formatter's
HAND_SET = 30


def files(*suffixes, folders=FOLDERS):
    found = [p for folder in folders for p in (ROOT / folder).rglob("*") if p.suffix in suffixes]
    assert found
    return sorted(found)


def own_code(folders=("config", "equipment", "jobs")):
    return [path for path in files(".py", folders=folders) if "migrations" not in path.parts]


def functions(path):
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


def body_lines(node):
    """Lines from the first statement to the last, without the docstring."""
    first = node.body[1] if ast.get_docstring(node) and len(node.body) > 1 else node.body[0]
    return node.end_lineno - first.lineno + 1


def test_no_file_is_longer_than_400_lines():
    long = {
        str(path.relative_to(ROOT)): lines
        for path in files(".py", ".html")
        if "migrations" not in path.parts
        and (lines := len(path.read_text().splitlines())) > FILE_LINES
    }
    assert long == {}


def test_no_function_is_longer_than_50_lines():
    long = {
        f"{path.relative_to(ROOT)}:{node.name}": body_lines(node)
        for path in own_code()
        for node in functions(path)
        if body_lines(node) > FUNCTION_LINES
    }
    assert long == {}


def test_no_view_is_longer_than_25_lines():
    long = {
        f"{path.relative_to(ROOT)}:{node.name}": body_lines(node)
        for path in own_code(("jobs",))
        if "views" in path.parts
        for node in functions(path)
        if node.args.args and node.args.args[0].arg == "request"
        if body_lines(node) > VIEW_LINES
    }
    assert long == {}


def arguments(node):
    return [each.arg for each in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)]


def test_no_function_takes_more_than_8_arguments():
    public = {calculation.function.__name__ for calculation in load().values()}
    many = {
        f"{path.relative_to(ROOT)}:{node.name}": len(arguments(node))
        for path in own_code()
        for node in functions(path)
        if len(arguments(node)) > ARGUMENTS
        and not ("engineering" in path.parts and node.name in public)
    }
    assert many == {}


def test_hardly_any_lines_are_set_by_hand():
    # written in two pieces, so that this file does not count itself
    mark = re.compile(r"#\s*fmt:\s*(sk" r"ip|of" r"f)\b")
    found = [
        f"{path.relative_to(ROOT)}:{number}"
        for path in files(".py")
        for number, line in enumerate(path.read_text().splitlines(), 1)
        if mark.search(line)
    ]
    assert len(found) < HAND_SET, found


def test_migrations_are_named_by_hand():
    automatic = re.compile(r"_auto_\d|_and_more$|^\d{4}_(alter|remove|rename|delete|historical)")
    names = [
        path.stem
        for app in ("equipment", "jobs")
        for path in (ROOT / app / "migrations").glob("[0-9]*.py")
    ]
    assert names
    assert [name for name in names if automatic.search(name)] == []


# written in two pieces, so that this file does not find itself
@pytest.mark.parametrize(
    "mark",
    [
        r"\bTO" r"DO\b|\bFIX" r"ME\b",
        r"mark\.(sk" r"ip|sk" r"ipif|xf" r"ail)\b|pytest\.(sk" r"ip|xf" r"ail)\(",
        r"#\s*no" r"qa\s*$|#\s*type:\s*igno" r"re\s*$",
        r"(?<![\w.])/(ro" r"ot|ho" r"me|wo" r"rk)/\w",
    ],
    ids=["open ends", "tests left out", "rules switched off whole", "paths of one machine"],
)
def test_repository_is_free_of(mark):
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout.splitlines()
    texts = [ROOT / name for name in listed if not name.endswith((".lock", ".png", ".jpg", ".pdf"))]
    found = [
        f"{path.relative_to(ROOT)}:{number}"
        for path in texts
        if path.is_file()
        for number, line in enumerate(path.read_text(errors="replace").splitlines(), 1)
        if re.search(mark, line)
    ]
    assert found == []
