"""The fields of the facts, as they stand and as they stood when NUMBER was raised last.

`python -m tests.jobs.fieldwork.shape` keeps those that stand: once NUMBER was raised, not before.
"""

import json
from dataclasses import fields, is_dataclass
from pathlib import Path

from jobs.fieldwork import facts

FILE = Path(__file__).with_name("shape.json")
KINDS = {kind.__name__: kind for kind in vars(facts).values() if is_dataclass(kind)}


def shape_now():
    return {name: {each.name: each.type for each in fields(kind)} for name, kind in KINDS.items()}


if __name__ == "__main__":
    kept = {"number": facts.NUMBER, "fields": shape_now()}
    FILE.write_text(json.dumps(kept, indent=1) + "\n")
