"""Renders records where nothing is installed but what a phone unpacks.

    python -I -S tests/jobs/phone/bare.py FOLDER < lines

A line in is a list of calls as JSON, `["open", {...}]`, `["live", {...}]`, `["panel", {...}]` or
`["item", {...}]`; a line out is the list of what they said.
"""

import json
import sys
from importlib.util import find_spec
from pathlib import Path

#: rooms of the server that no phone has
ABSENT = (
    "django.db.models",
    "django.urls",
    "django.forms",
    "django.http",
    "django.contrib",
    "jobs.models",
    "equipment.models",
    "jobs.views",
)


def main():
    folder = Path(sys.argv[1])
    sys.path.insert(0, str(folder))
    from jobs.phone.worker import Worker

    worker = Worker(folder)
    for line in sys.stdin:
        said = [
            json.loads(getattr(worker, name)(json.dumps(given)) or "null")
            for name, given in json.loads(line)
        ]
        print(json.dumps(said), flush=True)
    print(json.dumps([name for name in ABSENT if is_here(name)]))


def is_here(name):
    try:
        return find_spec(name) is not None
    except ImportError:
        return False


if __name__ == "__main__":
    main()
