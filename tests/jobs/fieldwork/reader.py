"""Reads records from JSON where Django cannot be imported, and says what each of them says.

    python tests/jobs/fieldwork/reader.py < lines

A line in is "moment<TAB>facts", a line out is the digest of that record.

The same `digest` runs on the server, so that the two can be compared value by value.
"""

import json
import sys
from dataclasses import asdict
from datetime import datetime
from pathlib import Path

BARRED = ("django", "celery", "kombu", "redis", "psycopg")


class Barrier:
    """Makes an import of what the phone does not have an error."""

    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in BARRED:
            raise ImportError(f"{name} is not here")
        return


def digest(sheet):
    """Everything a record says, as plain values."""
    from jobs.fieldwork.glasses import shown_on
    from jobs.fieldwork.recheck import compare, consumption

    used = consumption(sheet)
    return {
        "lines": [
            [item.key, item.state, item.sentence, item.shown, item.value] for item in sheet.items
        ],
        "blocks": [[b.key, b.number, b.is_done, b.is_begun, b.passed] for b in sheet.blocks],
        "cautions": {block.key: sheet.cautions_of(block) for block in sheet.blocks},
        "red": {key: block.key for key, block in sheet.red_cautions().items()},
        "missing": [[row.key, row.sentence, row.block.key] for row in sheet.missing()],
        "panels": [
            [panel.name, stage and stage.pk, outcome.json, outcome.refusal]
            for block in sheet.blocks
            for panel, stage in sheet.outcomes.on_page(block.key)
            for outcome in [sheet.outcomes.of(panel.name, stage)]
        ],
        "glasses": [
            [asdict(shown.glass), [vars(field) for field in shown.fields], shown.echo_at]
            for block in sheet.blocks
            for system in ("us", "metric")
            for shown in shown_on(sheet.outcomes, block.key, system=system)
        ],
        "advice": [sheet.advice.json, sheet.advice.waiting],
        "second visit": [
            [vars(row) for block in sheet.blocks for row in compare(sheet, block.key)],
            used and vars(used),
        ],
        "aim": sheet.aim,
    }


def plain(value):
    """As JSON gives it back: tuples are lists."""
    return json.loads(json.dumps(value))


def main():
    sys.meta_path.insert(0, Barrier())
    sys.path.insert(0, str(Path(__file__).resolve().parents[3]))
    from jobs.fieldwork.facts_json import from_json
    from jobs.fieldwork.sheet import read_sheet

    for line in sys.stdin:
        moment, text = line.rstrip("\n").split("\t", 1)
        sheet = read_sheet(from_json(text), now=datetime.fromisoformat(moment))
        print(json.dumps(digest(sheet)), flush=True)


if __name__ == "__main__":
    main()
