"""What a page of a record holds so that a hand needs few taps: what stands, where it goes on."""

import html
import json
import math
import re

import pytest
from django.urls import reverse

from equipment.engineering.oxidant.pump_setting import PumpSetting
from equipment.quantities import READ_BY_KIT
from jobs.fieldwork.keys import LineKey
from jobs.fieldwork.standing import STANDS
from jobs.fieldwork.together import RINSED, SANITISED
from jobs.records.loading import load_facts, load_sheet
from jobs.workflows.dial_back import set_step
from tests.conftest import NOW, signed_in
from tests.factories import make_staff
from tests.record_scenes import answer, make_house

pytestmark = pytest.mark.django_db

TAKE = re.compile(r'name="take" value="([^"]+)"[^>]*>\s*(.*?)</button>', re.S)


@pytest.fixture
def house(clock):
    record, visit, lead = make_house()
    return record, visit, lead, signed_in(lead)


def page(client, record, block):
    return client.get(reverse("record-block", args=[record.pk, block])).content.decode()


def offered(said):
    """Words of each button to what it puts."""
    return {
        " ".join(html.unescape(words).split()): json.loads(html.unescape(value))
        for value, words in TAKE.findall(said)
    }


def whole(said):
    """What the one press for the page puts: box to figure and unit."""
    found = [puts for words, puts in offered(said).items() if words.endswith("as they stand")]
    return {name: (text, unit) for name, text, unit in found[0]} if found else {}


def test_label_and_strength_of_the_plan_are_taken_each_by_its_own_press_without_script(house):
    """7 % by weight at 1.02 g/mL is 71.4 g/L: 0.07 x 1020, by hand. A label is read by itself."""
    record, _, _, client = house
    feeder = record.train.stages.get(kind="feeder")
    feeder.product.label_strength_percent, feeder.product.density_g_ml = 7, 1.02
    feeder.product.save()
    said = page(client, record, "dial-back")
    assert whole(said) == {}
    source = f"On the plan: {feeder.product.name}; take it if the container says the same: 7 %."
    assert source in html.unescape(said)
    boxes = {
        f"label-strength.{feeder.pk}": ("7", "percent"),
        f"solution-strength.{feeder.pk}": ("71.4", "g/L"),
    }
    where = reverse("record-block", args=[record.pk, "dial-back"])
    for box, put in boxes.items():
        alone = [[box, *put]]
        assert alone in offered(said).values()
        client.post(where, {"take": json.dumps(alone)})
    kept = dict(record.answers.values_list("line_key", "text"))
    assert (kept["label-strength"], kept["solution-strength"]) == ("7", "71.4")


def test_who_feeds_it_as_it_comes_says_label_and_strength_by_one_press(house):
    """7 % by weight at 1.02 g/mL is 71.4 g/L: 0.07 x 1020, by hand."""
    record, _, lead, client = house
    feeder = record.train.stages.get(kind="feeder")
    feeder.product.label_strength_percent, feeder.product.density_g_ml = 7, 1.02
    feeder.product.save()
    words = "Take 7 %, fed undiluted: 71.4 g/L"
    puts = offered(page(client, record, "dial-back"))[words]
    client.post(reverse("record-block", args=[record.pk, "dial-back"]), {"take": json.dumps(puts)})
    kept = dict(record.answers.values_list("line_key", "text"))
    assert (kept["label-strength"], kept["solution-strength"]) == ("7", "71.4")
    answer(record, lead, "label-strength", "", stage=feeder)
    assert words not in offered(page(client, record, "dial-back"))  # how it was mixed is said


def test_a_program_is_taken_as_worked_out_in_whole_days_and_grains(house):
    """Never a day longer than worked out, never a grain softer."""
    record, _, lead, client = house
    for key, text in (("raw-iron", "3"), ("raw-manganese", "0.1"), ("raw-sulfide", "0")):
        answer(record, lead, key, text)
    answer(record, lead, "raw-hardness", "12.3", unit="gpg")
    soft, bed = (record.train.stages.get(kind=kind) for kind in ("softener", "filter"))
    puts = whole(page(client, record, "program"))
    worked = load_sheet(record, now=NOW).outcomes
    days = {
        bed.pk: worked.of("filter-interval", _fact(record, bed)).value("days"),
        soft.pk: worked.of("softener", _fact(record, soft)).value("days"),
    }
    for part, exact in days.items():
        assert puts[f"wash-interval.{part}:left"] == (f"{math.floor(exact)}", "day")
    grains = worked.of("softener", _fact(record, soft)).value("compensated_hardness")
    assert float(puts[f"hardness-set.{soft.pk}:left"][0]) == math.ceil(grains) > 12.3
    assert not [name for name in puts if name.endswith(":found")]


def test_two_figures_that_stand_are_taken_by_one_press_and_one_alone_at_its_line(house):
    record, _, lead, client = house
    answer(record, lead, "raw-hardness", "12.3", unit="gpg")
    for key, text in (("raw-iron", "3"), ("raw-manganese", "0.1"), ("raw-sulfide", "0")):
        answer(record, lead, key, text)
    where = reverse("record-block", args=[record.pk, "program"])
    puts = whole(page(client, record, "program"))
    left = list(puts)
    assert len(left) > 2
    while len(left) > 2:
        name = left.pop()
        client.post(where, {"take": json.dumps([[name, *puts[name]]])})
        assert set(whole(page(client, record, "program"))) == set(left)
    name = left.pop()
    client.post(where, {"take": json.dumps([[name, *puts[name]]])})
    assert whole(page(client, record, "program")) == {}


def _fact(record, stage):
    return next(s for s in load_facts(record, now=NOW).stages if s.pk == stage.pk)


def test_no_reading_and_no_tick_stands(house):
    """What an eye, a kit or a gauge must read today is never taken with the rest of a page."""
    record, *_ = house
    lines = {line.key: line for line in load_facts(record, now=NOW).lines}
    asked = [lines[key] for key in STANDS if key in lines]
    assert len(asked) > 6
    assert not [line for line in asked if line.kind not in ("quantity", "number")]
    assert not [line for line in asked if line.quantity_key in READ_BY_KIT]
    gates = {line.key for line in asked if line.is_gate}
    assert gates == {LineKey.WASH_HOUR}  # a setting; that two differ is judged all the same


def test_words_typed_at_one_part_are_offered_at_the_next_at_once(house):
    record, _, lead, client = house
    answer(record, lead, "disinfect-scope", "here")
    parts = [record.train.stages.get(kind=kind) for kind in ("filter", "softener")]
    for part in parts:
        answer(record, lead, "bypass-list", "bypassed", stage=part)
    first, second = (f"sanitised.{part.pk}" for part in parts)
    sent = {"item": first, first: "rinsed", f"{first}~version": "0", "asked": "disinfect-scope"}
    said = client.post(reverse("record-answer", args=[record.pk]), sent).content.decode()
    assert f'id="a-{second.replace(".", "-")}-offers" hx-swap-oob="innerHTML"' in said
    assert [[second, "rinsed", ""]] in offered(said).values()
    assert [[first, "rinsed", ""]] not in offered(said).values()
    answer(record, lead, "sanitised", "soaked", stage=parts[1])
    sent |= {first: "", f"{first}~version": "1"}
    said = client.post(reverse("record-answer", args=[record.pk]), sent).content.decode()
    assert [[first, "soaked", ""]] in offered(said).values()
    own = f'id="a-{first.replace(".", "-")}-offers" hx-swap-oob'
    assert own not in said  # the line that is answered says it itself


def test_the_press_for_a_clear_jar_knows_the_minutes_that_were_taken_a_moment_ago(house):
    """Of the tank that was answered about, and of no other; the page is not drawn anew."""
    record, _, _, client = house
    tanks = [stage.pk for stage in record.train.stages.filter(kind="filter")]
    assert "also says how long it took" not in page(client, record, "backwash")
    for tank in tanks:
        line = f"wash-minutes.{tank}"
        sent = {"item": line, f"{line}:left": "10", f"{line}:left~version": "0", "asked": line}
        sent |= {line: "10", f"{line}~version": "0"}
        said = client.post(reverse("record-answer", args=[record.pk]), sent).content.decode()
        again = re.findall(
            r'<fieldset id="a-(\S+)" hx-swap-oob="innerHTML">(.*?)</fieldset>', said, re.S
        )
        assert [place.rpartition("-")[2] for place, _ in again] == [str(tank)]
        assert "also says how long it took: 10 min" in " ".join(again[0][1].split())
        assert "Cycle 1 takes" in again[0][1]


def test_how_parts_are_usually_disinfected_is_said_of_all_by_one_press(house):
    record, _, lead, client = house
    answer(record, lead, "disinfect-scope", "here")
    parts = [record.train.stages.get(kind=kind) for kind in ("feeder", "filter", "softener")]
    boxes = [f"sanitised.{part.pk}" for part in parts]
    for part in parts[1:]:
        answer(record, lead, "bypass-list", "bypassed", stage=part)
    answer(record, lead, "bypass-list", "off", stage=parts[0])
    words = [RINSED, SANITISED[0], SANITISED[0]]
    puts = [[box, said, ""] for box, said in zip(boxes, words, strict=True)]
    shown = page(client, record, "disinfect")
    assert puts in offered(shown).values()
    assert f": {RINSED}; " in shown
    client.post(reverse("record-block", args=[record.pk, "disinfect"]), {"take": json.dumps(puts)})
    rows = record.answers.filter(line_key="sanitised")
    assert {f"sanitised.{row.stage_id}": row.text for row in rows} == dict(
        zip(boxes, words, strict=True)
    )
    assert "as is usual</button>" not in page(client, record, "disinfect")


def test_one_part_alone_or_one_that_is_said_is_no_several(house):
    record, _, lead, client = house
    answer(record, lead, "disinfect-scope", "here")
    one, other = (record.train.stages.get(kind=kind) for kind in ("filter", "softener"))
    answer(record, lead, "bypass-list", "bypassed", stage=one)
    assert "as is usual</button>" not in page(client, record, "disinfect")
    answer(record, lead, "bypass-list", "bypassed", stage=other)
    assert "Take all 2 as is usual" in page(client, record, "disinfect")
    answer(record, lead, "sanitised", "soaked", stage=other)
    assert "as is usual</button>" not in page(client, record, "disinfect")


def test_a_line_that_an_answer_opens_comes_as_whole_as_the_page_draws_it(house):
    """With the short answer of its panel, which later answers renew in place."""
    record, _, _, client = house
    sent = {
        "item": "disinfect-scope",
        "disinfect-scope": "here",
        "disinfect-scope~version": "0",
        "asked": "disinfect-scope",
    }
    said = client.post(reverse("record-answer", args=[record.pk]), sent).content.decode()
    opened = said.split('data-key="static-level"')[1].split('class="item"')[0]
    assert 'id="well-volume-echo"' in opened


def test_the_button_at_the_thumb_names_the_next_part_and_is_quiet_while_one_is_under_way(house):
    record, _, lead, client = house
    first, last = page(client, record, "isolate"), page(client, record, "handover")
    assert "Next: does the new piping hold pressure?" in first
    assert "Next: close the record" in last
    main = re.compile(r'class="act main" type="submit"\s+form="answers"')
    assert main.search(first)
    assert not main.search(page(client, record, "dial-back"))  # steps are open
    answer(record, lead, "disinfect-scope", "here")
    assert not main.search(page(client, record, "disinfect"))  # so is the contact time


def test_a_hand_is_led_to_what_must_be_answered_and_passes_what_stands_on_file(house):
    record, _, _, client = house
    said = page(client, record, "raw-water")
    assert re.search(r'id="i-raw-iron"\s+data-led', said)
    assert re.search(r'id="i-people"\s+data-filed', said)
    assert re.search(r'id="i-kits"', page(client, record, "baseline"))
    assert not re.search(r'id="i-kits"\s+data', page(client, record, "baseline"))
    found = re.search(
        r'<input[^>]*name="wash-hour[^"]*:found"[^>]*>', page(client, record, "program")
    )
    assert "data-aside" in found[0]


def test_both_people_of_a_start_up_see_the_same_step(house):
    """The first who says that it is set sets it; the other reads the same step and its time."""
    record, visit, lead, client = house
    visit.helper = make_staff("technician", first_name="Ulla", last_name="Byrne")
    visit.save()
    other = signed_in(visit.helper)
    answer(record, lead, "tap-flow", "5")
    set_step(record=record, setting=PumpSetting(percent=40), by=lead, now=NOW)
    pages = [page(person, record, "dial-back") for person in (client, other)]
    steps = [
        re.findall(r"Step \d+: the dosing pump is at\s+\S+\s*%?|set \d\d:\d\d", p) for p in pages
    ]
    assert steps[0] == steps[1] != []
    assert all("Save this reading" in said for said in pages)


# --- several lines by one press -------------------------------------------------------------------


def press_of(said, words):
    return next(puts for label, puts in offered(said).items() if words in label)


def post_taken(client, record, block, puts):
    where = reverse("record-block", args=[record.pk, block])
    return client.post(where, {"take": json.dumps(puts)})


def test_the_steps_of_one_tank_are_said_by_one_press_and_each_stands_by_itself(house):
    record, _, lead, client = house
    said = page(client, record, "fill")
    tanks = [(label, puts) for label, puts in offered(said).items() if "in this order" in label]
    assert len(tanks) == said.count('name="tank-cracked.') // 2 >= 2, "one for each tank"
    (label, puts), *_ = tanks
    assert [box.partition(".")[0] for box, _, _ in puts] == [
        "tank-cracked", "tank-air", "tank-steady", "tank-open"
    ]  # fmt: skip
    assert len({box.partition(".")[2] for box, _, _ in puts}) == 1, "of that tank alone"
    for box, _, _ in puts:
        assert f'type="checkbox" id="a-{box.replace(".", "-")}"' in said, "each by itself as well"
    assert "charge-valve" not in label
    answer(record, lead, "charge-valve", "yes")
    answer(record, lead, "charge-gauge", "50", unit="psi")
    post_taken(client, record, "fill", puts)
    sheet = load_sheet(record, now=NOW)
    first = {
        item.key: item.state for item in sheet.items if item.key in {box for box, _, _ in puts}
    }
    assert set(first.values()) == {"passed"}
    assert len(first) == 4
    again = offered(page(client, record, "fill"))
    assert label not in again
    assert len([words for words in again if "in this order" in words]) == len(tanks) - 1


def test_before_the_pipes_are_charged_the_press_passes_nothing(house):
    record, _, _, client = house
    puts = press_of(page(client, record, "fill"), "in this order")
    post_taken(client, record, "fill", puts)
    states = {item.key: item.state for item in load_sheet(record, now=NOW).items}
    assert "passed" not in {states[box] for box, _, _ in puts}


def test_one_answer_of_a_tank_ends_the_press_for_it(house):
    record, _, lead, client = house
    sheet = load_sheet(record, now=NOW)
    tank = sheet.item("tank-steady").stage
    before = offered(page(client, record, "fill"))
    answer(record, lead, "tank-steady", "yes", stage=tank)
    after = offered(page(client, record, "fill"))
    assert set(before) - set(after) == {f"All 4 seen at {tank}, in this order"}


def test_how_parts_usually_stand_while_chlorine_is_in_is_one_press(house):
    record, _, lead, client = house
    answer(record, lead, "disinfect-scope", "here")
    said = page(client, record, "disinfect")
    puts = press_of(said, "stand so")
    assert said.count(f"All {len(puts)} stand so") == 1  # at the first of them alone
    parts = {f"bypass-list.{stage.pk}": stage for stage in record.train.stages.all()}
    stands = {parts[box].kind: text for box, text, _ in puts}
    assert stands["retention"] == "in_line"
    assert stands["feeder"] == "off"
    assert stands["filter"] == stands["softener"] == "bypassed"
    assert "contact tank in line" in said.lower()
    post_taken(client, record, "disinfect", puts)
    sheet = load_sheet(record, now=NOW)
    states = {item.state for item in sheet.items if item.line.key == "bypass-list"}
    assert states == {"passed"}
    assert "stand so" not in page(client, record, "disinfect")


def test_once_a_part_was_answered_by_itself_nothing_is_said_of_all(house):
    record, _, lead, client = house
    answer(record, lead, "disinfect-scope", "here")
    tank = record.train.stages.get(kind="softener")
    answer(record, lead, "bypass-list", "removed", stage=tank)
    assert "stand so" not in page(client, record, "disinfect")


def test_no_stop_and_no_tick_of_isolation_is_in_one_press(house):
    record, _, lead, client = house
    answer(record, lead, "disinfect-scope", "here")
    lines = {line.key: line for line in load_facts(record, now=NOW).lines}
    for block in {line.block for line in lines.values()}:
        for puts in offered(page(client, record, block)).values():
            ticks = {name.partition(".")[0] for name, text, _ in puts if text == "yes"}
            assert not ticks & {"isolated", "feeder-unplugged", "uses-asked", "notice-given"}
            assert not any(lines[key].caution for key in ticks)


def test_the_day_of_the_next_regeneration_is_one_press(house):
    record, _, _, client = house
    said = page(client, record, "program")
    days = [label for label in offered(said) if label.endswith("day")]
    assert days == ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
    post_taken(client, record, "program", offered(said)["Thursday"])
    assert record.answers.get(line_key="next-regen").text == "Thursday"
    assert "Monday" not in offered(page(client, record, "program"))
