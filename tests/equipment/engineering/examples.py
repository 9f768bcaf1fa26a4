"""One real example for each calculation, from fixtures/examples.json."""

import json

from equipment.engineering.registry import load
from equipment.published import FOLDER

EXAMPLES = json.loads((FOLDER.parent / "examples.json").read_text(encoding="utf-8"))


def entries():
    """(entry, typed inputs) of every calculation; a missing example is a KeyError."""
    return [(entry, EXAMPLES[name]) for name, entry in sorted(load().items())]
