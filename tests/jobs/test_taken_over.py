"""A figure that was read once is offered where it is asked again, and goes in by one press."""

import html
import re
from datetime import timedelta

import pytest
from django.urls import reverse

from equipment.engineering.oxidant.pump_setting import PumpSetting
from jobs.workflows.dial_back import Seen, keep_as_final, read_step, set_step
from jobs.workflows.records import close_record, open_record
from jobs.workflows.visits import arrive
from tests.conftest import NOW, signed_in
from tests.factories import make_job, make_staff, make_visit
from tests.record_scenes import answer, answer_all, make_house, make_ready

pytestmark = pytest.mark.django_db

MINUTE = timedelta(minutes=1)


@pytest.fixture
def house(clock):
    record, visit, lead = make_house()
    return record, visit, lead, signed_in(lead)


def page(client, record, block, **typed):
    return client.get(reverse("record-block", args=[record.pk, block]), typed)


def taken(client, record, block, wanted, **typed):
    """Presses the button whose words begin so, as a browser without script sends it."""
    said = page(client, record, block, **typed).content.decode()
    buttons = re.findall(r'name="take" value="([^"]+)"[^>]*>\s*(.*?)</button>', said, re.S)
    value = next(html.unescape(v) for v, words in buttons if " ".join(words.split()) == wanted)
    where = reverse("record-block", args=[record.pk, block])
    return client.post(where, {"take": value, "asked": "tap-flow"}, follow=True)


def words_on(client, record, block, **typed):
    said = re.sub(r"<[^>]+>", " ", page(client, record, block, **typed).content.decode())
    return " ".join(html.unescape(said).split())


def answered(record, key):
    row = record.answers.get(line_key=key)
    return row.text, row.unit


def test_a_bucket_goes_into_the_line_that_asks_for_its_flow(house):
    """5 gal in 47 s is 6.38 gpm: 5 x 60 / 47, by hand."""
    record, _, _, client = house
    typed = {"bucket-flow~volume": "5", "bucket-flow~time": "47"}
    wanted = "Take 6.38 gpm: Well pump flow while running"
    shown = taken(client, record, "raw-water", wanted, **typed)
    assert answered(record, "pump-flow") == ("6.38", "gpm")
    assert shown.redirect_chain[-1][0] == reverse("record-block", args=[record.pk, "raw-water"])


def test_the_glass_offers_its_figure_to_the_lines_of_its_own_page_only(house):
    """The flow of the dial-back is asked on another page, where the bucket stands again."""
    record, _, _, client = house
    typed = {"bucket-flow~volume": "5", "bucket-flow~time": "47"}
    offered = {
        block: set(re.findall(r"Take 6\.38 gpm: ([A-Z][^<]*?)\s*<", said))
        for block in ("raw-water", "dial-back")
        if (said := page(client, record, block, **typed).content.decode())
    }
    assert offered["raw-water"] == {"Well pump flow while running"}
    assert offered["dial-back"]
    assert not offered["raw-water"] & offered["dial-back"]


def test_what_the_bucket_gave_is_offered_again_on_the_page_of_the_dial_back(house):
    """With its source and its time: 10:05 by the clock of the company."""
    record, _, lead, client = house
    answer(record, lead, "pump-flow", "6.38", unit="gpm", now=NOW + 5 * MINUTE)
    said = words_on(client, record, "dial-back")
    assert "Well pump flow while running, 10:05: 6.38 gpm." in said
    taken(client, record, "dial-back", "Take 6.38 gpm")
    assert answered(record, "tap-flow") == ("6.38", "gpm")
    assert "Take 6.38 gpm" not in words_on(client, record, "dial-back")


def test_a_figure_of_an_earlier_visit_is_no_reading_of_today(house):
    record, visit, lead, client = house
    answer(record, lead, "pump-flow", "6.38", unit="gpm")
    assert "Take 6.38 gpm" in words_on(client, record, "dial-back")
    arrive(visit=visit, by=lead, now=NOW + MINUTE)
    assert "Take 6.38 gpm" not in words_on(client, record, "dial-back")


def dialled(record, lead, **set_by):
    """One step, set, read after four hours and kept."""
    setting = PumpSetting(percent=20)
    step = set_step(record=record, setting=setting, by=lead, now=NOW, **set_by)
    later = NOW + 240 * MINUTE
    seen = Seen("clear", 5, 10, iron_clear=True, odour_clear=True)
    read_step(record=record, number=step.number, seen=seen, by=lead, now=later)
    keep_as_final(record=record, number=step.number, by=lead, now=later)


def test_draw_down_and_residual_of_the_kept_step_are_not_typed_again(house):
    record, _, lead, client = house
    open_lines = ("steps", "tap-flow", "feed-drawn", "feed-time", "peroxide-retention")
    answer_all(record, lead, without=open_lines)
    answer(record, lead, "tap-flow", "5")
    dialled(record, lead, drawdown_ml_min=8.5)
    said = words_on(client, record, "dial-back")
    assert "Draw-down of step 1, 10:00: 8.5 mL in 60 s." in said
    taken(client, record, "dial-back", "Take 8.5 mL in 60 s")
    assert answered(record, "feed-drawn") == ("8.5", "mL")
    assert answered(record, "feed-time") == ("60", "s")
    said = words_on(client, record, "baseline")
    assert "Reading of step 1, which stays, 14:00: 5-10 mg/L." in said
    taken(client, record, "baseline", "Take 5-10 mg/L")
    assert answered(record, "peroxide-retention") == ("5-10", "mg/L")


def test_the_strength_worked_out_of_the_label_goes_into_its_line(house):
    record, _, lead, client = house
    feeder = record.train.stages.get(kind="feeder")
    answer(record, lead, "label-strength", "7", stage=feeder)
    wanted = next(
        words for words in re.findall(r"Take [\d.]+ g/L: [^<]+?(?=\s{2}|\n|<)", raw(client, record))
    )
    taken(client, record, "dial-back", " ".join(wanted.split()))
    row = record.answers.get(line_key="solution-strength")
    assert row.unit == "g/L"
    assert wanted.startswith(f"Take {row.text} g/L: Strength of the solution in the tank")


def raw(client, record):
    return html.unescape(page(client, record, "dial-back").content.decode())


def test_two_washes_until_the_jar_was_clear_are_their_minutes(house):
    record, _, lead, client = house
    bed = record.train.stages.get(kind="filter")
    answer(record, lead, "wash-minutes", "12", stage=bed)
    answer(record, lead, "cycles", "cloudy", stage=bed)
    assert "the jar clear" not in words_on(client, record, "backwash")
    answer(record, lead, "cycles", "cloudy clear", stage=bed)
    assert "2 washes of 12 min, the jar clear, 10:00: 24 min." in words_on(
        client, record, "backwash"
    )
    taken(client, record, "backwash", "Take 24 min")
    assert answered(record, "clear-minutes") == ("24", "min")


def test_the_press_that_says_the_jar_is_clear_says_how_long_it_took(house):
    """The second wash of 12 min ends clear: 24 min; what was typed before is left as it is."""
    record, _, lead, client = house
    bed = record.train.stages.get(kind="filter")
    where = reverse("record-block", args=[record.pk, "backwash"])

    def pressed(word, done, **typed):
        sent = re.search(
            r'name="([^"]+)~clear" value="([^"]+)"', client.get(where).content.decode()
        )
        name, puts = sent[1], html.unescape(sent[2])
        post = {f"{name}~cycle": f"{done}:{word}", f"{name}~clear": puts, **typed}
        client.post(where, post)

    answer(record, lead, "cycles", "cloudy", stage=bed)
    assert "~clear" not in client.get(where).content.decode()  # nobody knows how long a wash is
    answer(record, lead, "wash-minutes", "12", stage=bed)
    assert "“clear” also says how long it took: 24 min" in words_on(client, record, "backwash")
    pressed("cloudy", 1)
    assert not record.answers.filter(line_key="clear-minutes").exists()
    pressed("clear", 2, **{f"clear-minutes.{bed.pk}": ""})
    assert answered(record, "clear-minutes") == ("36", "min")
    answer(record, lead, "cycles", "cloudy", stage=bed)
    assert "~clear" not in client.get(where).content.decode()  # said already


def test_the_minutes_that_were_typed_stand_over_those_of_the_press(house):
    record, _, lead, client = house
    bed = record.train.stages.get(kind="filter")
    answer(record, lead, "wash-minutes", "12", stage=bed)
    where, box = reverse("record-block", args=[record.pk, "backwash"]), f"clear-minutes.{bed.pk}"
    name = f"cycles.{bed.pk}"
    post = {f"{name}~cycle": "0:clear", f"{name}~clear": f'[["{box}", "12", "min"]]'}
    client.post(where, {**post, box: "15", f"{box}~unit": "min"})
    assert answered(record, "clear-minutes") == ("15", "min")
    assert answered(record, "cycles")[0] == "clear"


def test_at_a_recheck_the_kept_step_is_the_setting_that_is_left(clock):
    first, _, lead = make_ready()
    close_record(record=first, visit=first.job.visits.get(), by=lead, now=NOW)
    job = make_job(train=first.train, kind="recheck")
    make_visit(job=job, lead=lead, starts_at=NOW + 1440 * MINUTE)
    record, client = open_record(job=job, purpose="recheck", by=lead, now=NOW), signed_in(lead)
    answer(record, lead, "tap-flow", "5")
    dialled(record, lead)
    taken(client, record, "recheck-setting", "Take 20 %")
    left = record.answers.get(line_key="pump-setting")
    assert (left.side, left.text, left.unit) == ("left", "20", "percent")


def test_who_only_reads_and_a_closed_record_are_offered_nothing(clock):
    """Neither at a glass nor at a box: the well pump was measured, the tap was not."""
    record, visit, lead = make_ready()
    answer(record, lead, "tap-flow", "")
    office, technician = signed_in(make_staff("dispatcher")), signed_in(lead)
    typed = {"bucket-flow~volume": "5", "bucket-flow~time": "47"}
    blocks = ("raw-water", "dial-back")
    assert [offered(office, record, block, typed) for block in blocks] == [False, False]
    assert [offered(technician, record, block, typed) for block in blocks] == [True, True]
    answer(record, lead, "tap-flow", "5")
    close_record(record=record, visit=visit, by=lead, now=NOW)
    assert [offered(technician, record, block, typed) for block in blocks] == [False, False]


def offered(client, record, block, typed):
    """On the page, and in the glass as it is worked out at a key."""
    where = reverse("record-panel", args=[record.pk, "bucket-flow"])
    glass = client.get(where, typed | {"page": block}).content
    on_page = page(client, record, block, **typed).content
    found = {b'name="take"' in on_page, b'name="take"' in glass}
    assert len(found) == 1
    return found.pop()


def test_what_is_no_figure_of_a_box_changes_nothing(house):
    record, _, _, client = house
    where = reverse("record-block", args=[record.pk, "dial-back"])
    for sent in ("{", "5", '[["tap-flow", 5, "gpm"]]', '[["tap-flow", "5"]]', '[["x", "5", ""]]'):
        assert client.post(where, {"take": sent, "asked": "tap-flow"}).status_code in (302, 422)
        assert not record.answers.filter(line_key="tap-flow").exists()
    refused = client.post(where, {"take": '[["tap-flow", "500", "gpm"]]', "asked": "tap-flow"})
    assert refused.status_code == 422
    assert not record.answers.filter(line_key="tap-flow").exists()
