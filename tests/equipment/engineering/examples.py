"""One real example for each calculation, from fixtures/examples.json.

`typed` are its inputs; `pushes` says which way each result must go when an input is made larger;
results `in_steps` (rounded tables, caps) never go the wrong way, and may stay.
"""

import json

from equipment.engineering.registry import load
from equipment.published import FOLDER

WHOLE = json.loads((FOLDER.parent / "examples.json").read_text(encoding="utf-8"))
EXAMPLES = {name: example["typed"] for name, example in WHOLE.items()}
PUSHES = {name: example["pushes"] for name, example in WHOLE.items()}
IN_STEPS = {name: example.get("in_steps", []) for name, example in WHOLE.items()}


def entries():
    """(entry, typed inputs) of every calculation; a missing example is a KeyError."""
    return [(entry, EXAMPLES[name]) for name, entry in sorted(load().items())]
