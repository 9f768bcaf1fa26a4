"""One word for one thing: dosing pump or well pump, contact tank, backwash, SERVICE or BYPASS.

Read are the strings of the code, the templates, the scripts and the shipped files. "Pump" alone and
"bypass open" are each read in two ways by those who work beside two pumps and a valve.
"""

import ast
import json
import re
from pathlib import Path

import pytest
from django.conf import settings

ROOT = Path(settings.BASE_DIR)
#: what is not written, by what is written in its place
WRONG = {
    "dosing pump or well pump": r"(?<!dosing )(?<!well )(?<!heat )\bpumps?\b",
    "dosing pump": r"\bfeeders?\b(?!-)|\bfeed pumps?\b",
    "contact tank": r"\bretention\b(?!-)",
    "backwash": r"(?<!back)\bwash(?:es|ed|ing)?\b(?!-)",
    "SERVICE (treated) or BYPASS (untreated, ...)": r"\bbypass(?: is| stands)? (?:open|closed)\b",
}
#: a household washes too, a source is quoted as it stands, and words of a password are no page
MEANT = (
    r"\bnot for drinking, cooking",
    r"\bwash, bathe and do the laundry",
    r"\bwashing and bathing\b",
    r"\bwash dishes\b",
    r"\b(?:drinks|cooks|bathes)(?:, \w+)* or washes\b|\bdrinks, (?:cooks, )?washes or\b",
    r"\binfant formula, cooking or washing\b",
    r"\bclothes washers?\b",
    r"35 Ill\. Adm\. Code",
    r"\bqwertyuiop\b",
)
#: a string that is a name in the code, an address or a path of a drawing
NAME = re.compile(r"[\w./:%{}#@*,=&?<>|()\[\]^$+\\!'\"-]*")


def written():
    """(file and line, text) of everything that a person may come to read."""
    for room in ("config", "equipment", "jobs"):
        for path in sorted((ROOT / room).rglob("*.py")):
            if "migrations" not in path.parts:
                yield from (_at(path, *found) for found in strings(path.read_text("utf-8")))
    for path in sorted((ROOT / "templates").rglob("*")):
        if path.suffix in (".html", ".typ"):
            yield from (_at(path, *found) for found in shown(path.read_text("utf-8")))
    for path in sorted((ROOT / "jobs/static").rglob("*.js")):
        lines = enumerate(path.read_text("utf-8").splitlines(), 1)
        yield from (_at(path, n, text) for n, line in lines for text in quoted(line))
    for path in sorted((ROOT / "fixtures").glob("*.json")):
        if path.name != "examples.json":
            yield from (_at(path, 0, text) for text in leaves(json.loads(path.read_text("utf-8"))))


def _at(path, line, text):
    return f"{path.relative_to(ROOT)}:{line}", text


def strings(source):
    """Strings of Python that are no docstring; what an f-string fills in is "..."."""
    tree = ast.parse(source)
    passed = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}  # docstrings
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            passed |= {id(part) for part in node.values}
            parts = (p.value if isinstance(p, ast.Constant) else "..." for p in node.values)
            yield node.lineno, "".join(map(str, parts))
    for node in ast.walk(tree):
        text = node.value if isinstance(node, ast.Constant) else None
        if isinstance(text, str) and id(node) not in passed:
            yield node.lineno, text


def shown(template):
    """Lines of a template without its tags, its marks and the names in them."""
    bare = re.sub(
        r"(?s)kind == \"\w+\"|{% comment.*?endcomment %}|{#.*?#}|{%.*?%}|{{.*?}}|<[^>]*>",
        lambda found: "\n" * found[0].count("\n"),
        template,
    )
    yield from enumerate(bare.splitlines(), 1)
    for found in re.finditer(r'(?:with|heading|title|label|alt)="([^"{]* [^"{]*)"', template):
        yield template.count("\n", 0, found.start()) + 1, found[1]


def quoted(line):
    return [text for _, text in re.findall(r"([\"'`])((?:(?!\1).)*)\1", line)]


def leaves(value):
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for part in value.values():
            yield from leaves(part)
    elif isinstance(value, list):
        for part in value:
            yield from leaves(part)


def wrong_in(text, spelled):
    if NAME.fullmatch(text) and text.lower() == text:
        return False
    if any(re.search(meant, text, re.IGNORECASE) for meant in MEANT):
        return False
    return re.search(spelled, text, re.IGNORECASE) is not None


@pytest.mark.parametrize("right", WRONG)
def test_what_people_read_says_one_word(right):
    texts = list(written())
    assert len(texts) > 5000
    assert [(at, text) for at, text in texts if wrong_in(text, WRONG[right])] == []


def test_the_patterns_find_what_they_look_for():
    pump, feeder, tank, wash, bypass = WRONG.values()
    assert wrong_in("Pump setting", pump)
    assert not wrong_in("Dosing pump setting, flow of the well pump", pump)
    assert wrong_in("How the feeder was left", feeder)
    assert not wrong_in("measured (feeder-calibration)", feeder)
    assert wrong_in("After retention", tank)
    assert wrong_in("Hour of the wash", wash)
    assert not wrong_in("Backwash and rinse", wash)
    assert not wrong_in("wash-hour", wash)
    assert not wrong_in("You may wash, bathe and do the laundry with it", wash)
    assert wrong_in("Gauge at zero, bypass open", bypass)
    assert list(shown("<p class='pump'>{{ pump }} the\n{% pump %}tank</p>"))[0] == (1, " the")
    assert list(strings('"""pump"""\nx = f"a {y} pump"')) == [(2, "a ... pump")]
