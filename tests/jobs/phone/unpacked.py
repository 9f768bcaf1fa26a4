"""What a phone unpacks, and records rendered there and on the server."""

import json
import subprocess
import sys
import zipfile
from datetime import timedelta
from pathlib import Path

from django.template.loader import render_to_string
from django.utils import timezone

from jobs.fieldwork.facts_json import to_json
from jobs.fieldwork.glasses import shown_on, warned_of
from jobs.fieldwork.sheet import read_sheet
from jobs.management.commands.build_phone import address_of
from jobs.phone import building
from jobs.phone.gates import advice_on, gate_lines
from jobs.phone.rows import row_of

BARE = Path(__file__).with_name("bare.py")
PERSON = {"name": "Tess Alder", "id": 7}


def unpack(folder):
    """Both files, built from this tree, as they lie on a phone."""
    packed, lies = folder / "packed", folder / "lies"
    packed.mkdir()
    for name in building.build(packed, address_of).values():
        with zipfile.ZipFile(packed / name) as archive:
            archive.extractall(lies)
    return lies


def handed(facts, *, system="us", at=None):
    """A record as the office hands it over."""
    zone = timezone.get_current_timezone()
    offset = timezone.localtime(at or facts.record.opened_at).utcoffset()
    return {
        "facts": json.loads(to_json(facts, zone)),
        "by": PERSON,
        "system": system,
        "utc_offset_minutes": offset // timedelta(minutes=1),
    }


def told(block, now, *, acts=(), boxes=None, **more):
    return {
        "block": block,
        "now": now.isoformat(),
        "acts": list(acts),
        "panel_boxes": boxes or {},
        **more,
    }


def act(line, text, at, *, stage=None, side="", unit="", dilution=1):
    payload = {
        "line": line,
        "stage": stage and stage.pk,
        "tank": stage.tank if stage else 0,
        "side": side,
        "text": text,
        "unit": unit,
        "dilution": dilution,
    }
    return {"kind": "answer", "at": at.isoformat(), "payload": payload}


def on_phone(lies, calls):
    """What a bare interpreter says to each list of calls, and which rooms of Django it has."""
    ran = subprocess.run(
        [sys.executable, "-I", "-S", str(BARE), str(lies)],
        input="".join(json.dumps(row) + "\n" for row in calls),
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr[-3000:]
    *said, rooms = [json.loads(line) for line in ran.stdout.splitlines()]
    return said, rooms


def calls_of(facts, now, *, system="us", whole=True):
    """Every page of a record, and of a whole one every panel and line on it with its boxes."""
    sheet = read_sheet(facts, now=now)
    calls = [["open", handed(facts, system=system)]]
    for block in sheet.blocks:
        calls.append(["live", told(block.key, now)])
        if not whole:
            continue
        for shown in shown_on(sheet.outcomes, block.key, system=system):
            calls.append(["panel", told(block.key, now, name=shown.dom_id)])
        calls += [["item", told(block.key, now, key=item.key)] for item in block.items]
    return calls


def on_server(facts, now, *, system="us", whole=True):
    """The same by the views' own functions, the server's settings and its template engine."""
    sheet = read_sheet(facts, now=now)
    said = [None]
    record, writes = facts.record, not facts.record.is_closed
    for block in sheet.blocks:
        panels = shown_on(sheet.outcomes, block.key, system=system)
        said.append(_live(sheet, block, panels, system))
        if not whole:
            continue
        for shown in panels:
            context = {"shown": shown, "record": record, "part": block}
            said.append(render_to_string("records/_panel.html", context))
        for item in block.items:
            row = {"row": row_of(item, system=system), "record": record, "writes": writes}
            said.append(render_to_string("records/_item.html", row))
    return said


def live_on_server(sheet, key, *, system="us", typed=None):
    """What a page shows that a figure may change, of a sheet as the views read it."""
    block = sheet.block(key)
    return _live(sheet, block, shown_on(sheet.outcomes, key, typed, system=system), system)


def _live(sheet, block, panels, system):
    gates = gate_lines(block, clock=timezone.localtime)
    parts = {"gates": render_to_string("records/_gates.html", {"gates": gates})}
    warned = {"warned": warned_of(panels)}
    parts["warned"] = render_to_string("records/_warned.html", warned)
    for shown in panels:
        inside = render_to_string("parts/_measure_inside.html", {"glass": shown.glass})
        parts[shown.dom_id] = inside
        parts[f"{shown.dom_id}-echo"] = shown.glass.echo if shown.echo_at else ""
    if advice := advice_on(sheet, block.key):
        parts[advice.id] = render_to_string("parts/_measure_inside.html", {"glass": advice})
    for item in block.items:
        row = {"row": row_of(item, system=system)}
        parts[f"s-{item.dom_id}"] = render_to_string("records/_item_state.html", row)
    return parts


def differing(lies, rows, **how):
    """(pieces of HTML compared, those that differ): rows are (moment, facts)."""
    said, rooms = on_phone(lies, [calls_of(facts, now, **how) for now, facts in rows])
    assert rooms == []
    pieces, different = 0, []
    for (now, facts), there in zip(rows, said, strict=True):
        here = on_server(facts, now, **how)
        pieces += sum(len(piece) if isinstance(piece, dict) else 1 for piece in here)
        different += [
            (facts.record.pk, mine, other)
            for mine, other in zip(here, there, strict=True)
            if mine != other
        ]
    return pieces, different
