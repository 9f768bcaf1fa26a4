"""Templates a person can review: short lines, and parts that say what they need."""

from pathlib import Path

from django.conf import settings

ROOT = Path(settings.BASE_DIR)
LONGEST = 120
ENDINGS = {".html", ".typ"}
#: templates stand in the last; the others may bring fragments along
FOLDERS = ("config", "equipment", "jobs", "templates")


def templates():
    found = [path for folder in FOLDERS for path in (ROOT / folder).rglob("*")]
    return sorted(path for path in found if path.suffix in ENDINGS)


def test_no_line_of_a_template_is_longer_than_120_characters():
    found = templates()
    assert {path.suffix for path in found} == ENDINGS
    long = {
        f"{path.relative_to(ROOT)}:{number}": len(line)
        for path in found
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if len(line) > LONGEST
    }
    assert long == {}


def test_every_part_says_at_its_head_what_it_needs():
    parts = [path for path in templates() if path.name.startswith("_") and path.suffix == ".html"]
    assert parts
    silent = [
        str(path.relative_to(ROOT))
        for path in parts
        if not path.read_text(encoding="utf-8").startswith("{% comment %}")
    ]
    assert silent == []
