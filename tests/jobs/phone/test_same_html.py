"""Server and phone make the same HTML of a record, byte for byte."""

import json
import zipfile
from contextlib import suppress
from datetime import timedelta

import brotli
import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.errors import BadEntry
from jobs.management.commands.build_phone import address_of
from jobs.phone import building
from jobs.phone.live import PARTIALS
from jobs.records.loading import load_facts, load_sheet
from tests.conftest import NOW, signed_in
from tests.factories import make_measurement
from tests.jobs.fieldwork.generated import random_facts
from tests.record_scenes import answer, make_house

from .unpacked import act, differing, handed, live_on_server, on_phone, told, unpack

GENERATED = 500
MINUTE = timedelta(minutes=1)


@pytest.fixture(scope="module")
def lies(tmp_path_factory):
    return unpack(tmp_path_factory.mktemp("phone"))


# --- records as they stand ----------------------------------------------------------------------


def test_panels_gates_and_advice_of_five_hundred_generated_records(lies):
    rows = [(NOW + n * MINUTE, random_facts(n)) for n in range(GENERATED)]
    for system, share in (("us", rows[::2]), ("metric", rows[1::2])):
        pieces, different = differing(lies, share, system=system, whole=False)
        assert different == []
        assert pieces > 20 * len(share)


def test_panels_and_lines_with_their_boxes_of_generated_records(lies):
    rows = [(NOW + n * MINUTE, random_facts(n)) for n in range(0, GENERATED, 25)]
    pieces, different = differing(lies, rows)
    assert different == []
    assert pieces > 60 * len(rows)


# --- what is typed ------------------------------------------------------------------------------


@pytest.fixture
def house(db):
    record, _, lead = make_house()
    well = record.train.wells.get()
    for key, value in (("casing_diameter", 6), ("total_depth", 240), ("static_level", 60)):
        make_measurement(well=well, quantity_key=key, value=value)
    return record, lead


#: what a person types into a panel
BOXES = {
    "feed-setting~dose": "20 mg/L",
    "feed-setting~strength": "71.6 g/L",
    "feed-setting~feeder_output": "17 gpd",
    "feed-setting~flow": "8",
    "turnover~volume": "80 gal",
    "turnover~flow": "2.5",
}
#: line, text, and how: what passes, fails, is unusual, is refused, is cleared again
TYPED = [
    ("hold-piping", "yes", {}),
    ("hold-start", "60", {}),
    ("hold-end", "57", {}),
    ("raw-iron", "3,2", {"dilution": 2}),
    ("raw-sulfide", "< 0.1", {}),
    ("pump-flow", "8", {"unit": "gpm"}),
    ("pump-flow", "30", {"unit": "L/min"}),
    ("label-strength", "7.5", {"part": "feeder"}),
    ("label-strength", "36", {"part": "feeder"}),
    ("tap-flow", "not a figure", {}),
    ("tap-flow", "2.5", {}),
    ("tap-iron", "0.4", {}),
    ("tap-iron", "0.2", {}),
    ("tap-iron", "", {}),
    ("wash-hour", "3", {"part": "filter", "side": "left"}),
    ("disinfect-scope", "here", {}),
    ("flush-low", "0.1", {}),
]


def test_what_is_typed_shows_on_the_phone_what_the_office_says_once_it_has_it(house, lies):
    """Each entry is typed on a phone that holds the facts from before it, then saved."""
    record, lead = house
    calls, saved = [], []
    for number, (key, text, how) in enumerate(TYPED):
        at = NOW + number * MINUTE
        facts = load_facts(record, now=at)
        how = dict(how)
        sheet = load_sheet(record, now=at)
        stage = sheet.stage(how.pop("part", ""))
        blocks = [block.key for block in sheet.blocks]
        typed = act(key, text, at, stage=stage, **how)
        person = {"name": lead.get_full_name(), "id": lead.pk}
        calls.append(
            [["open", handed(facts) | {"by": person}]]
            + [["live", told(block, at, acts=[typed])] for block in blocks]
        )
        _save(record, lead, key, text, at, stage, how)
        fresh = load_sheet(record, now=at)
        saved.append([live_on_server(fresh, block) for block in blocks if fresh.block(block)])
    said, absent = on_phone(lies, calls)
    assert absent == []
    for typed, there, here in zip(TYPED, said, saved, strict=True):
        assert [page for page in there[1:] if page] == here, typed
    first, last = json.dumps(saved[0]), json.dumps(saved[-1])
    assert "Does not pass" in last
    assert first != last


def _save(record, lead, key, text, at, stage, how):
    """Refused texts change nothing."""
    with suppress(BadEntry):
        answer(record, lead, key, text, stage=stage, now=at, **how)


def test_a_figure_typed_into_a_panel_is_what_the_panel_page_answers(house, lies, clock):
    record, lead = house
    facts, client = load_facts(record, now=NOW), signed_in(lead)
    [(_, live)], _ = on_phone(
        lies, [[["open", handed(facts)], ["live", told("dial-back", NOW, boxes=BOXES)]]]
    )
    asked = client.get(
        reverse("record-panel", args=[record.pk, "feed-setting"]), BOXES | {"page": "dial-back"}
    )
    inside = asked.content.decode()
    assert '<p class="answer">' in live["feed-setting"]
    assert inside.startswith(live["feed-setting"])
    page = client.get(reverse("record-block", args=[record.pk, "dial-back"]), BOXES)
    assert live["feed-setting"] in page.content.decode()
    assert live["gates"] in page.content.decode()


def test_a_system_of_units_reaches_the_phone(house, lies):
    record, _ = house
    facts, sheet = load_facts(record, now=NOW), load_sheet(record, now=NOW)
    calls = [
        [["open", handed(facts, system=each)], ["live", told("dial-back", NOW, boxes=BOXES)]]
        for each in ("us", "metric")
    ]
    (us, metric), _ = on_phone(lies, calls)
    assert us[1] == live_on_server(sheet, "dial-back", system="us", typed=BOXES)
    assert metric[1] == live_on_server(sheet, "dial-back", system="metric", typed=BOXES)
    assert us[1]["turnover"] != metric[1]["turnover"]


def test_times_are_those_of_the_company_and_not_of_the_phone(house, lies):
    record, lead = house
    answer(record, lead, "hold-piping", "yes", now=NOW)
    answer(record, lead, "hold-start", "60", now=NOW)
    answer(record, lead, "hold-end", "59", now=NOW)
    facts = load_facts(record, now=NOW)
    block = next(line.block for line in facts.lines if line.key == "hold-end")
    [(_, live)], _ = on_phone(lies, [[["open", handed(facts)], ["live", told(block, NOW)]]])
    assert f"{timezone.localtime(NOW):%H:%M}" in live["gates"]
    assert f"{NOW:%H:%M}" not in live["gates"]


# --- what is packed -----------------------------------------------------------------------------


def test_the_same_files_make_the_same_two_zips_and_former_ones_go(tmp_path):
    names = []
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "field.000000000000.zip").write_bytes(b"of yesterday")
        names.append(building.build(tmp_path / folder, address_of))
    assert names[0] == names[1]
    for name in names[0].values():
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()
    left = sorted(path.name for path in (tmp_path / "one").iterdir())
    packed = [f"{name}{ending}" for name in names[0].values() for ending in ("", building.BROTLI)]
    assert left == sorted([*packed, building.MANIFEST])


#: of each name in an address, something that may stand there
EXAMPLES = {"pk": 26, "block": "dial-back", "key": "dial-back", "number": 3, "name": "contact"}


def test_partials_come_with_what_they_include_addresses_and_licences(tmp_path):
    names = building.build(tmp_path, address_of)
    with zipfile.ZipFile(tmp_path / names["templates.zip"]) as archive:
        packed = set(archive.namelist())
        addresses = json.loads(archive.read("addresses.json"))
    assert {f"templates/{name}" for name in PARTIALS} < packed
    assert "templates/parts/_looks_milk.html" in packed
    for name, (pattern, keys) in addresses.items():
        given = {key: EXAMPLES[key] for key in keys}
        assert pattern % given == reverse(name, kwargs=given)
    assert {"record-answer", "record-panel"} <= set(addresses)
    with zipfile.ZipFile(tmp_path / names["field.zip"]) as archive:
        packed |= set(archive.namelist())
    for library in ("django", "asgiref", "pint", "flexparser", "typing_extensions"):
        assert any(name.startswith(library) and "LICEN" in name for name in packed), library
    assert not {name for name in packed if name.startswith(("jobs/models", "jobs/views"))}


def test_both_zips_stay_small(tmp_path):
    """Budget of our own, fetched once for each version: the sources, as they are sent."""
    names = building.build(tmp_path, address_of)
    sent = [tmp_path / f"{name}{building.BROTLI}" for name in names.values()]
    assert sum(each.stat().st_size for each in sent) < 600_000
    for each in sent:
        assert brotli.decompress(each.read_bytes()) == each.with_suffix("").read_bytes()


def test_a_template_that_cannot_be_read_there_is_said_when_it_is_packed(tmp_path, monkeypatch):
    monkeypatch.setattr(building, "DRAWN", (*building.DRAWN, "follow_ups/worklist.html"))
    with pytest.raises(RuntimeError, match="'names' is not a registered tag library"):
        building.build(tmp_path, address_of)
