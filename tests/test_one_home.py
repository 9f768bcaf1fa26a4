"""One home for each fact: what would be said a second time is looked for in the tree."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
CODE = [
    path
    for room in ("config", "equipment", "jobs")
    for path in (ROOT / room).rglob("*.py")
    if "migrations" not in path.parts
]
OXIDANT = "equipment/engineering/oxidant"
#: the fact, how it is spelled, and the one file that may spell it
FACTS = {
    "kelvin": (r"\b273\.\d", "equipment/engineering/factors.py"),
    "peroxide burns eyes": (
        r"EYE_PERCENT = |(?<![.\d])8 percent (?:by mass|peroxide|or more)",
        "equipment/engineering/oxidant/solutions.py",
    ),
    "quarter hour": (r"QUARTER = ", "jobs/models/visits.py"),
    "pads of strips": (r"\bpads=\(", "equipment/engineering/oxidant/kits.py"),
    "tap behind the contact tank": (r"AFTER_RETENTION: PartKind", "equipment/quantities.py"),
    "test that found nothing": (
        r"comparator [!=]= \"<\" or|NOT_FOUND = ",
        "equipment/quantities.py",
    ),
}


@pytest.mark.parametrize("fact", FACTS)
def test_it_is_said_in_one_file(fact):
    spelled, home = FACTS[fact]
    found = {
        str(path.relative_to(ROOT))
        for path in CODE
        if re.search(spelled, path.read_text(encoding="utf-8"))
    }
    assert found == {home}
