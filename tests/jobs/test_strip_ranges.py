"""A strip says between which two values it lies: typed so, judged whole, kept, and read so."""

import html
import json
import re

import pytest
from django.urls import reverse

from equipment.models import Measurement
from jobs.fieldwork.keys import PanelName
from jobs.records.loading import load_sheet
from jobs.records.water_lines import water_lines
from tests.conftest import NOW, signed_in
from tests.jobs.test_records import close
from tests.record_scenes import make_house, make_ready

pytestmark = pytest.mark.django_db
RAW = "raw-water"


@pytest.fixture
def typed():
    """What a technician types into one box of a page of the record."""
    record, _, lead = make_house()
    client = signed_in(lead)

    def post(block, key, text, unit="mg/L", **more):
        posted = {key: text, f"{key}~unit": unit} | {f"{key}~{k}": v for k, v in more.items()}
        where = reverse("record-block", args=[record.pk, block])
        answered = client.post(where, posted, follow=True)
        return words(client.get(where) if answered.status_code == 200 else answered)

    post.record, post.lead = record, lead
    return post


def words(page):
    text = re.sub(r"<[^>]+>", " ", page.content.decode().replace("&lt;", "<").replace("&gt;", ">"))
    return re.sub(r"\s+", " ", text.replace("\u202f", " "))


def state_of(record, key):
    item = load_sheet(record, now=NOW).item(key)
    return item.state, item.sentence


# the company takes less than 0.5 mg/L behind the carbon, the first printed value of its strips:
# common practice, no source
@pytest.mark.parametrize(
    ("text", "state", "why"),
    [
        ("0-0.5", "passed", ""),
        ("< 0.5", "passed", ""),
        ("0.2-0.4", "passed", ""),
        ("0.2 to 2", "failed", "the upper end of 0.2 to 2 mg/L is not"),
        ("0.5-2", "failed", "0.5-2 mg/L is not"),
        ("> 5", "failed", "> 5 mg/L is not"),
    ],
)
def test_a_gate_passes_when_the_whole_range_does(typed, text, state, why):
    page = typed("baseline", "peroxide-after", text)
    assert state_of(typed.record, "peroxide-after")[0] == state
    assert why in page


# chlorine for a disinfection has to be at least this strong in the well: a company value
@pytest.mark.parametrize(
    ("text", "state", "why"),
    [
        ("100-200", "passed", ""),
        ("25-100", "failed", "the lower end of 25-100 mg/L is not"),
        ("5-10", "failed", "company value; 5-10 mg/L is not"),
    ],
)
def test_what_must_be_strong_enough_is_by_its_lower_end(typed, text, state, why):
    typed("disinfect", "disinfect-scope", "here")
    page = typed("disinfect", "chlorine-mixed", text)
    assert state_of(typed.record, "chlorine-mixed")[0] == state
    assert why in page


def test_a_panel_counts_with_the_upper_end_and_says_so(typed):
    """Iron 1 to 3 mg/L takes peroxide for 3: half a mole each (molar masses from memory)."""
    typed(RAW, "raw-sulfide", "0-0.3")
    typed(RAW, "raw-iron", "1-3")
    page = typed("dial-back", "tap-flow", "5", "gpm")
    assert "1-3 mg/L: the upper end is used" in page
    assert "not found: counted as none" in page
    of_iron = load_sheet(typed.record, now=NOW).outcomes.of(PanelName.OXIDANT_DEMAND)
    assert of_iron.value("demand_iron") == pytest.approx(3 * 34.0147 / (2 * 55.845), rel=1e-3)
    assert not of_iron.value("demand_sulfide")


@pytest.mark.parametrize(
    ("text", "found"), [("0-0.3", False), ("< 0.3", False), ("0.3-0.5", True), ("> 5", True)]
)
def test_a_range_from_nothing_is_not_found_and_any_other_is(typed, text, found):
    typed(RAW, "raw-sulfide", text)
    assert load_sheet(typed.record, now=NOW).has_sulfide is found


@pytest.mark.parametrize(
    ("key", "text", "unit", "refused"),
    [
        ("raw-iron", "3-1", "mg/L", "a range says its lower end first"),
        ("raw-temperature", "10-12", "degC", "takes one figure"),
        ("raw-iron", "1-900", "mg/L", "must be 0 to 200 mg/L"),
        ("raw-iron", "1-2-3", "mg/L", "Not saved"),
    ],
)
def test_what_is_no_range_is_refused_with_its_reason(typed, key, text, unit, refused):
    assert refused in typed(RAW, key, text, unit)
    assert not typed.record.answers.filter(line_key=key).exists()


TAKE = re.compile(r'name="take" value="([^"]+)"[^>]*>([^<]+)</button>')


def bands_of(typed, block, name):
    """Words of each band at a box to what its button sends."""
    client = signed_in(typed.lead)
    where = reverse("record-block", args=[typed.record.pk, block])
    found = {}
    for value, said in TAKE.findall(client.get(where).content.decode()):
        sent = html.unescape(value)
        if json.loads(sent)[0][0] == name:
            found[said.strip()] = sent
    return found, lambda sent: client.post(where, {"take": sent})


@pytest.mark.parametrize(
    ("name", "said", "kept", "low", "high"),
    [
        ("peroxide-retention", "5 to 10", "5-10", 5, 10),
        ("peroxide-retention", "above 100", ">100", 100, None),
        ("tap-ph", "6.5 to 7", "6.5-7", 6.5, 7),
    ],
)
def test_a_band_of_a_strip_is_taken_by_one_press_without_script(typed, name, said, kept, low, high):
    bands, press = bands_of(typed, "baseline", name)
    press(bands[said])
    assert typed.record.answers.get(line_key=name).text == kept
    read = load_sheet(typed.record, now=NOW).item(name).read()
    assert read.low == low
    assert read.high == high or high is None
    # another band is taken over it, and one that was typed whole stands as typed
    press(list(bands.values())[2])
    typed("baseline", name, "7-8", version="2")
    assert typed.record.answers.get(line_key=name).text == "7-8"


def test_bands_are_offered_where_a_usual_strip_reads_and_to_who_writes(typed, dispatcher_client):
    assert bands_of(typed, RAW, "raw-iron")[0]
    typed("disinfect", "disinfect-scope", "here")
    for key in ("chlorine-mixed", "chlorine-left"):
        assert bands_of(typed, "disinfect", key)[0] == {}, "strong chlorine has strips of its own"
    assert bands_of(typed, RAW, "raw-temperature")[0] == {}
    where = reverse("record-block", args=[typed.record.pk, RAW])
    assert not TAKE.findall(dispatcher_client.get(where).content.decode())


def test_history_print_and_customer_read_it_as_it_was_typed(dispatcher_client):
    told = {"peroxide-retention": "5-10", "raw-hardness": "120 to 250", "tap-iron": "0-0.3"}
    record, visit, lead = make_ready(answers=told | {"raw-iron": "1-3", "raw-ph": "6-6.5"})
    close(record, visit, lead)
    printed = words(dispatcher_client.get(reverse("record-print", args=[record.pk])))
    for said in ("5-10 mg/L", "120 to 250 mg/L", "0-0.3 mg/L", "1-3 mg/L"):
        assert said in printed
    history = words(dispatcher_client.get(reverse("site-history", args=[record.site_id])))
    assert "5-10" in history
    rows = {r.line_key: r for r in Measurement.objects.of_occasion(record.uuid)}
    ends = {key: (row.comparator, row.value, row.other_end) for key, row in rows.items()}
    assert ends["raw-iron"] == ("=", 3, 1)
    assert ends["raw-ph"] == ("=", 6, 6.5)  # of pH the lower end is the worse one
    assert ends["tap-iron"] == ("<", 0.3, None)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("0-0.3", "0 to 0.3 mg/L"),
        ("0.15-0.6", "may be beyond it"),
        ("0.5-1", "above: stains are possible"),
        ("0.15-0.3", "not above it"),
    ],
)
def test_the_table_of_the_customer_says_what_a_range_is_beside_its_limit(text, says):
    """Iron 0.3 mg/L: secondary level, 40 CFR 143.3."""
    record, _, _ = make_ready(answers={"tap-iron": text}, without=["steps"])
    row = next(r for r in water_lines(load_sheet(record, now=NOW)) if r["name"] == "Iron")
    assert says in f"{row['after']['text']} mg/L {row['says']}"
