"""The fields of the facts, as they stood when NUMBER was raised last, and those added since.

`python -m tests.jobs.fieldwork.shape` keeps those that stand; it refuses a change for which NUMBER
has to be raised first.
"""

import json
import sys
from dataclasses import fields, is_dataclass
from pathlib import Path

from jobs.fieldwork import facts, facts_beside

FILE = Path(__file__).with_name("shape.json")
ROOMS = (facts, facts_beside)
KINDS = {
    each.__name__: each for room in ROOMS for each in vars(room).values() if is_dataclass(each)
}


def shape_now():
    return {name: {each.name: each.type for each in fields(kind)} for name, kind in KINDS.items()}


def known(kept):
    """Kinds and names of every field on file: those of the raised number, and those added since."""
    names = [*kept["fields"], *(name for name in kept["added"] if name not in kept["fields"])]
    return {name: {**kept["fields"].get(name, {}), **kept["added"].get(name, {})} for name in names}


def changed(kept, now):
    """Fields on file that are gone, or of another type."""
    return [
        f"{kind}.{name}"
        for kind, fields_on_file in known(kept).items()
        for name, hint in fields_on_file.items()
        if now.get(kind, {}).get(name) != hint
    ]


def added(kept, now):
    """Fields that were not there when the number was raised."""
    new = {
        kind: {
            name: hint for name, hint in hints.items() if name not in kept["fields"].get(kind, {})
        }
        for kind, hints in now.items()
    }
    return {kind: hints for kind, hints in new.items() if hints}


def to_keep(kept, now, number):
    if kept["number"] != number:
        return {"number": number, "fields": now, "added": {}}
    if found := changed(kept, now):
        sys.exit(f"Renamed, dropped or of another type: {', '.join(found)}. Raise NUMBER first.")
    return {**kept, "added": added(kept, now)}


if __name__ == "__main__":
    said = to_keep(json.loads(FILE.read_text()), shape_now(), facts.NUMBER)
    FILE.write_text(json.dumps(said, indent=1) + "\n")
