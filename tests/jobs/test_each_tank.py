"""Tanks side by side: each brought on line, washed and set by itself, its cycles counted."""

import io
import re
from dataclasses import replace
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from equipment.models import Measurement, SettingChange
from jobs.fieldwork.subjects import is_of
from jobs.models import Answer
from jobs.records.loading import load_sheet
from jobs.workflows.answers import Entered, Place, save_answers
from jobs.workflows.records import close_record
from tests.conftest import NOW, signed_in
from tests.factories import make_measurement, make_stage, make_train
from tests.record_scenes import acknowledge_all, answer_all, make_house, read_final_step

pytestmark = pytest.mark.django_db


@pytest.fixture
def house():
    """A peroxide system whose carbon filter is two tanks; the well makes 3 gpm."""
    train = make_train(stages=("feeder", "retention"), injection="before", switching="switch_load")
    carbon = make_stage(train=train, kind="filter", parallel_count=2)
    record, visit, lead = make_house(train=train)
    make_measurement(well=train.wells.get(), quantity_key="well_yield", value=3)
    return record, visit, lead, carbon, signed_in(lead)


def page(record, block):
    return reverse("record-block", args=[record.pk, block])


def save(client, record, block, **typed):
    return client.post(page(record, block), {**typed, "stay": "1"})


def shown(client, record, block):
    return client.get(page(record, block)).content.decode()


def item(record, key, part, tank):
    items = load_sheet(record, now=NOW).items
    return next(i for i in items if i.key == f"{key}.{part.pk}.{tank}")


def press(client, record, part, tank, said):
    return client.post(page(record, "backwash"), {f"cycles.{part.pk}.{tank}~cycle": said})


def test_each_tank_is_asked_by_itself_and_one_after_the_other(house):
    record, _, _, carbon, client = house
    html = shown(client, record, "fill")
    order = re.findall(rf'data-key="(tank-\w+)\.{carbon.pk}\.(\d)"', html)
    steps = ["tank-cracked", "tank-air", "tank-steady", "tank-open"]
    assert order == [(step, tank) for tank in "12" for step in steps]
    assert "Its inlet opened a tenth, filling slowly: " in html
    assert "tank 2 of 2" in html


def test_what_is_asked_of_one_part_speaks_of_no_other(house):
    record, *_ = house
    parts = load_sheet(record, now=NOW).stages
    assert len({part.pk for part in parts}) > 2
    assert all(is_of(one, other) == (one.pk == other.pk) for one in parts for other in parts)


def test_a_tank_is_not_opened_before_its_air_is_out(house):
    record, _, _, carbon, client = house
    save(client, record, "fill", **{"charge-valve": "yes", "charge-gauge": "50"})
    save(client, record, "fill", **{f"tank-cracked.{carbon.pk}.1": "yes"})
    save(client, record, "fill", **{f"tank-open.{carbon.pk}.1": "yes"})
    early = item(record, "tank-open", carbon, 1)
    assert early.state == "failed"
    assert "comes after this one: Steady flow to the drain" in early.sentence
    assert early.text == "yes", "what happened is kept"
    save(client, record, "fill", **{f"tank-air.{carbon.pk}.1": "yes"})
    save(client, record, "fill", **{f"tank-steady.{carbon.pk}.1": "yes"})
    assert item(record, "tank-steady", carbon, 1).state == "passed"
    assert item(record, "tank-cracked", carbon, 2).state == "open", "the other tank is another"


def test_cycles_are_counted_and_the_next_one_is_said_beforehand(house):
    """7 gpm for 12 and 6 minutes are 126 gal; a well of 3 gpm makes them in 42 minutes."""
    record, _, _, carbon, client = house
    assert "Cycle 1: its time and water are not known yet" in shown(client, record, "backwash")
    save(client, record, "backwash", **{f"wash-minutes.{carbon.pk}": "12"})
    save(client, record, "backwash", **{f"rinse-minutes.{carbon.pk}": "6"})
    save(client, record, "backwash", **{f"backwash-flow.{carbon.pk}.1": "7"})
    save(client, record, "backwash", **{f"backwash-flow.{carbon.pk}.2": "6"})
    html = shown(client, record, "backwash")
    assert "Cycle 1 takes 18.0 min and 126 gal to the drain." in html
    assert "Cycle 1 takes 18.0 min and 108 gal to the drain." in html
    assert "before it: the well makes" not in html, "nothing was drawn yet"
    press(client, record, carbon, 1, "0:cloudy")
    html = shown(client, record, "backwash")
    assert "Cycle 2 takes 18.0 min and 126 gal to the drain. Wait 24.0 min before it" in html
    assert "cycle 1 ended cloudy: another follows until clear." in html
    press(client, record, carbon, 1, "1:clear")
    assert item(record, "cycles", carbon, 1).shown == "2: cloudy, clear"
    assert item(record, "cycles", carbon, 1).state == "passed"
    assert item(record, "cycles", carbon, 2).state == "open"


def test_a_press_that_comes_twice_counts_once_and_a_slip_is_taken_back(house):
    record, _, _, carbon, client = house
    press(client, record, carbon, 2, "0:cloudy")
    press(client, record, carbon, 2, "0:cloudy")
    assert item(record, "cycles", carbon, 2).cycles == ["cloudy"]
    press(client, record, carbon, 2, "1:clear")
    press(client, record, carbon, 2, "2:back")
    assert item(record, "cycles", carbon, 2).cycles == ["cloudy"]
    refused = press(client, record, carbon, 2, "1:crystal")
    assert refused.status_code == 422
    assert "each cycle ends with one of cloudy, media in it, clear" in refused.content.decode()


def test_the_first_water_waits_for_every_tank(house):
    record, _, _, carbon, client = house
    press(client, record, carbon, 1, "0:clear")
    html = save(client, record, "rinse", **{"first-water": "yes"})
    html = shown(client, record, "rinse")
    assert "the first water is not for the house" in html
    first = load_sheet(record, now=NOW).item("first-water")
    assert first.state == "failed"
    assert "tank 2 of 2" in first.sentence
    press(client, record, carbon, 2, "0:clear")
    save(client, record, "rinse", **{"first-water": ""})
    save(client, record, "rinse", **{"first-water": "yes"})
    assert load_sheet(record, now=NOW).item("first-water").state == "passed"


def test_two_tanks_never_wash_in_the_same_hour(house):
    record, _, _, carbon, client = house
    hours = {f"wash-hour.{carbon.pk}.{tank}:left": "2" for tank in (1, 2)}
    save(client, record, "program", **hours)
    assert (
        "tank 2 of 2 backwashes in the same hour" in item(record, "wash-hour", carbon, 1).sentence
    )
    save(client, record, "program", **{f"wash-hour.{carbon.pk}.2:left": "4"})
    assert item(record, "wash-hour", carbon, 1).state == "passed"


def test_a_tank_that_the_part_does_not_have_is_refused(house):
    record, _, _, carbon, client = house
    client.post(page(record, "backwash"), {f"backwash-flow.{carbon.pk}.3": "7", "stay": "1"})
    assert not Answer.objects.filter(line_key="backwash-flow").exists()


def test_both_tanks_are_printed_and_kept(house):
    record, visit, lead, carbon, client = house
    save(client, record, "backwash", **{f"backwash-flow.{carbon.pk}.1": "7"})
    save(client, record, "backwash", **{f"backwash-flow.{carbon.pk}.2": "6.5"})
    press(client, record, carbon, 1, "0:cloudy")
    press(client, record, carbon, 1, "1:clear")
    hours = {f"wash-hour.{carbon.pk}.1": "1", f"wash-hour.{carbon.pk}.2": "3"}
    save(
        client,
        record,
        "program",
        **{f"{name}:{s}": t for name, t in hours.items() for s in ("found", "left")},
    )
    now = timezone.now()
    answer_all(record, lead, now=now)
    read_final_step(record, lead, now=now)
    acknowledge_all(record, lead, now=now)
    close_record(record=record, visit=visit, by=lead, now=now + timedelta(hours=5))
    flows = Measurement.objects.filter(stage=carbon, quantity_key="backwash_flow")
    assert sorted(flows.values_list("tank", "value")) == [(1, 7.0), (2, 6.5)]
    kept = SettingChange.objects.filter(stage=carbon, name="wash_hour")
    assert sorted(kept.values_list("tank", "new_value")) == [(1, 1.0), (2, 3.0)]
    content = client.get(reverse("answers-sheet", args=[record.pk])).content
    pages = [sheet.extract_text() for sheet in PdfReader(io.BytesIO(content)).pages]
    text = re.sub(r"\s+", " ", " ".join(pages))
    assert "tank 1 of 2 2: cloudy, clear" in text
    assert "Flow of the backwash: backwashing filter, tank 2 of 2 6.5 gpm" in text
    assert "backwashing filter, tank 2 hour of the backwash" in text


@pytest.mark.parametrize("tank", [0, 3])
def test_a_tank_that_is_not_there_has_no_answer(house, tank):
    record, _, lead, carbon, _ = house
    there = Place("tank-open", replace(item(record, "tank-open", carbon, 1).stage, tank=tank))
    (refusal,) = save_answers(
        record=record, entries={there: Entered("yes")}, by=lead, now=NOW
    ).values()
    assert "choose one of its tanks" in str(refusal)
    assert not Answer.objects.filter(line_key="tank-open").exists()
