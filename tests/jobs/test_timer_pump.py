"""A dosing pump that is set by two figures: both are asked, kept, said and followed.

Retention tank 120 gal, pump flow 8 gpm. The swing of the dose is that of one mixed volume, as
worked by hand in fixtures/published/dosing.csv.
"""

import io
import re
from datetime import timedelta
from importlib import import_module

import pytest
from django.apps import apps
from django.urls import reverse
from pypdf import PdfReader

from equipment.engineering.oxidant.pump_setting import PumpSetting
from equipment.models import FeedPump, SettingChange
from jobs.errors import BadEntry
from jobs.fieldwork.dialling import advised_setting, next_setting_glass
from jobs.fieldwork.facts_json import from_json, to_json
from jobs.models import Company, FollowUp
from jobs.records.loading import load_facts, load_sheet
from jobs.workflows import dial_back
from jobs.workflows.records import close_record, open_record
from tests.conftest import NOW, signed_in
from tests.factories import make_job, make_measurement, make_rule, make_visit
from tests.record_scenes import acknowledge_all, answer, answer_all, make_house

pytestmark = pytest.mark.django_db
TIMER = {"head": "timer", "cycle_s": 60, "cycle_step_s": 5, "restart": "on"}
LATER = NOW + timedelta(hours=8)


def house_with(**plate):
    record, visit, lead = make_house()
    FeedPump.objects.update(**plate)
    answer_all(record, lead, without=("steps",))
    return record, visit, lead


def page_of(client, record, block="dial-back"):
    found = client.get(reverse("record-block", args=[record.pk, block]))
    return " ".join(found.content.decode().split())


def post_step(client, record, **figures):
    return client.post(reverse("record-step", args=[record.pk]), figures)


def post_reading(client, record, number, *, band="5-10"):
    sent = {"look": "clear", "band": band, "iron_clear": "yes", "odour_clear": "yes"}
    return client.post(reverse("record-step-read", args=[record.pk, number]), sent)


def dialled(record, lead, setting, *, number=1, at=NOW, low=5.0, high=10.0):
    dial_back.set_step(record=record, setting=setting, by=lead, now=at)
    seen = dial_back.Seen("clear", low, high, iron_clear=True, odour_clear=True)
    when = at + timedelta(hours=3)
    return dial_back.read_step(record=record, number=number, seen=seen, by=lead, now=when)


def kept(record, lead, setting):
    dialled(record, lead, setting)
    dial_back.keep_as_final(record=record, number=1, by=lead, now=LATER)


def closed(setting=None):
    record, visit, lead = house_with(**TIMER)
    kept(record, lead, setting or PumpSetting(percent=20, cycle_s=15))
    acknowledge_all(record, lead)
    close_record(record=record, visit=visit, by=lead, now=LATER)
    return record, lead


# --- asking --------------------------------------------------------------------------------------


def test_the_page_asks_cycle_and_share_and_offers_the_advice():
    record, _, lead = house_with(**TIMER)
    client = signed_in(lead)
    page = page_of(client, record)
    advice = load_sheet(record, now=NOW).advice.value("next_setting")
    offered = dict(re.findall(r'name="(setting_percent|cycle_s)"[^>]*value="([\d.]+)"', page))
    assert offered == {"setting_percent": f"{advice:g}", "cycle_s": "60"}
    refused = post_step(client, record, setting_percent="24")
    assert refused.status_code == 422
    assert refused.context["set_form"].errors.keys() == {"cycle_s"}
    post_step(client, record, setting_percent="24", cycle_s="15")
    step = record.steps.get()
    assert (step.setting_percent, step.marks) == (24, {"cycle_s": 15})
    assert "the dosing pump is at 24 % of a 15 s cycle" in page_of(client, record)


def test_a_pump_with_one_dial_is_asked_for_one_figure():
    record, _, lead = house_with()
    assert 'name="cycle_s"' not in page_of(signed_in(lead), record)


@pytest.mark.parametrize(
    ("setting", "field"),
    [
        (PumpSetting(percent=24), "cycle_s"),
        (PumpSetting(percent=24, cycle_s=4000), "cycle_s"),
        (PumpSetting(percent=101, cycle_s=15), "setting_percent"),
    ],
)
def test_half_a_setting_is_refused_at_its_figure(setting, field):
    record, _, lead = house_with(**TIMER)
    with pytest.raises(BadEntry) as refused:
        dial_back.set_step(record=record, setting=setting, by=lead, now=NOW)
    assert refused.value.field == field


def test_another_cycle_is_another_step():
    record, _, lead = house_with(**TIMER)
    dialled(record, lead, PumpSetting(percent=24, cycle_s=60))
    dialled(record, lead, PumpSetting(percent=24, cycle_s=15), number=2, at=LATER)
    assert [step.marks["cycle_s"] for step in record.steps.all()] == [60, 15]


# --- what follows ------------------------------------------------------------------------------


def test_the_feed_follows_the_share_and_the_swing_the_cycle():
    record, _, lead = house_with(**TIMER)
    said = []
    for number, cycle in enumerate((60, 15), 1):
        at = NOW + timedelta(hours=8 * number)
        dialled(record, lead, PumpSetting(percent=24, cycle_s=cycle), number=number, at=at)
        outcomes = load_sheet(record, now=at + timedelta(hours=4)).outcomes
        dose, swing = outcomes.of("dose-from-setting"), outcomes.of("dose-ripple")
        said.append((dose.value("dose"), swing.value("peak_ratio")))
    assert said[0][0] == said[1][0]
    assert said[0][1] > said[1][1] > 1


def test_a_timer_that_begins_anew_with_each_run_feeds_more_than_its_share():
    """By hand: 85 s hold a cycle of 60 s and the 14.4 s that begin the next, 28.8 s of feed."""
    record, _, lead = house_with(**TIMER)
    make_measurement(site=record.site, quantity_key="drawdown_volume", value=11.35, measured_at=NOW)
    dialled(record, lead, PumpSetting(percent=24, cycle_s=60))
    swing = load_sheet(record, now=LATER).outcomes.of("dose-ripple")
    run = 60 * 11.35 / 8
    assert swing.value("mean_ratio") == pytest.approx(28.8 / (0.24 * run), rel=1e-3)


def test_the_advice_names_the_longest_cycle_that_stays_inside_the_companys_bound():
    """A run of 85 s from 11.35 gal at 8 gpm; a timer that starts anew is off by (1 - s) t / run."""
    record, _, lead = house_with(**TIMER)
    make_measurement(site=record.site, quantity_key="drawdown_volume", value=11.35, measured_at=NOW)
    Company.load()
    for bound in (25, 10):
        Company.objects.update(dose_swing_percent=bound)
        sheet = load_sheet(record, now=LATER)
        setting = advised_setting(sheet)
        share = setting.percent / 100

        def off(cycle, share=share):
            return 100 * (1 - share) * cycle / (60 * 11.35 / 8)

        assert off(setting.cycle_s) <= bound < off(setting.cycle_s + 5)
        rows = {label: value for label, value, _ in next_setting_glass(sheet).rows}
        assert (
            rows[f"Longest cycle whose dose swings at most {bound}\u202f%"]
            == f"{setting.cycle_s:g}"
        )


def test_the_record_its_history_and_the_paper_say_both(owner_client):
    record, lead = closed()
    change = SettingChange.objects.get(name="output_percent")
    assert (change.new_value, change.new_marks) == (20, {"cycle_s": 15})
    both = "20 % of a 15 s cycle"
    pages = [
        reverse("record-print", args=[record.pk]),
        reverse("site-detail", args=[record.site_id]),
        reverse("site-history", args=[record.site_id]),
    ]
    for page in pages:
        assert both in " ".join(owner_client.get(page).content.decode().split()), page
    pdf = PdfReader(io.BytesIO(bytes(record.documents.get().content)))
    printed = " ".join(" ".join(page.extract_text() for page in pdf.pages).split())
    assert both in printed, "the setting we left; the steps stand on the page for the office"


def test_facts_carry_both_figures():
    record, _ = closed()
    facts = load_facts(record, now=LATER)
    assert from_json(to_json(facts)) == facts
    assert facts.steps[0].setting == PumpSetting(percent=20, cycle_s=15)
    pump = next(row.pump for row in facts.settings if row.name == "output_percent")
    assert pump == PumpSetting(percent=20, cycle_s=15)


# --- coming back ---------------------------------------------------------------------------------


def recheck_of(startup, lead, *, at, cycle):
    job = make_job(train=startup.train, kind="recheck", now=at)
    visit = make_visit(job=job, lead=lead, starts_at=at)
    record = open_record(job=job, purpose="recheck", by=lead, now=at)
    feeder = startup.train.stages.get(kind="feeder")
    told = {"level-found": "11.5", "raw-iron": "3.1"}
    answer_all(record, lead, answers=told, without=("pump-setting", "pump-cycle", "steps"), now=at)
    for side, seconds in zip(("found", "left"), cycle, strict=True):
        answer(record, lead, "pump-setting", "20", stage=feeder, side=side, now=at)
        answer(record, lead, "pump-cycle", seconds, stage=feeder, side=side, now=at)
    acknowledge_all(record, lead, now=at)
    close_record(record=record, visit=visit, by=lead, now=at)
    return record


def test_a_recheck_keeps_the_cycle_that_was_found_and_the_one_that_is_left():
    make_rule("f1")
    startup, lead = closed()
    at = NOW + timedelta(days=14)
    record = recheck_of(startup, lead, at=at, cycle=("30", "10"))
    change = SettingChange.objects.filter(occasion=record.uuid, name="output_percent").get()
    assert (change.old_marks, change.new_marks) == ({"cycle_s": 30}, {"cycle_s": 10})
    assert (change.old_value, change.new_value) == (20, 20)
    assert not FollowUp.objects.filter(made_at=at).exists(), "the dose follows the share"


def test_a_cycle_left_as_it_stood_is_no_change():
    startup, lead = closed()
    record = recheck_of(startup, lead, at=NOW + timedelta(days=14), cycle=("15", "15"))
    assert not SettingChange.objects.filter(occasion=record.uuid, name="output_percent").exists()


# --- other pumps --------------------------------------------------------------------------------


def test_stroke_and_speed_are_set_and_said():
    """60 percent of the stroke at 40 percent of the speed feed 24 percent."""
    record, _, lead = house_with(head="stroke")
    client = signed_in(lead)
    post_step(client, record, stroke_percent="60", speed_percent="40")
    assert record.steps.get().setting_percent == pytest.approx(24)
    assert "at stroke 60 %, speed 40 %, feeds 24 %" in page_of(client, record)


def test_pulses_of_a_meter_are_set_and_said():
    """8 gpm x 20 pulses / 4 = 40 of 100 strokes a minute, at 60 percent of the stroke: 24."""
    record, _, lead = house_with(head="metered", strokes_per_min=100, pulses_per_gal=20)
    client = signed_in(lead)
    post_step(client, record, stroke_percent="60", pulses="4")
    assert record.steps.get().setting_percent == pytest.approx(24)
    assert "at stroke 60 %, a stroke each 4 pulses, feeds 24 %" in page_of(client, record)


def test_a_fill_moves_one_figure_and_leaves_the_other(dispatcher_client):
    record, _ = closed()
    feeder = record.train.stages.get(kind="feeder")
    sent = {
        "at": (LATER + timedelta(hours=1)).strftime("%Y-%m-%dT%H:%M"),
        "filled_by": "company",
        "level_after_gal": "12",
        "strength_g_l": "35",
        "setting_percent": "40",
    }
    dispatcher_client.post(reverse("fill-new", args=[feeder.pk]), sent)
    change = SettingChange.objects.current(feeder, "output_percent")
    assert (change.new_value, change.new_marks) == (40, {"cycle_s": 15})


# --- rows that were there before -----------------------------------------------------------------


def test_steps_of_open_records_take_the_cycle_of_the_catalog():
    record, _, lead = make_house()
    answer_all(record, lead, without=("steps",))
    step = dial_back.set_step(record=record, setting=PumpSetting(percent=24), by=lead, now=NOW)
    FeedPump.objects.update(**TIMER)
    import_module("jobs.migrations.0037_both_figures_of_a_step").take_cycle_from_catalog(apps, None)
    step.refresh_from_db()
    assert step.marks == {"cycle_s": 60, "cycle_from_catalog": True}
    page = page_of(signed_in(lead), record)
    assert "24 % of a 60 s cycle (cycle by the catalog)" in page


def test_a_closed_record_of_one_figure_says_that_the_other_is_not_known(owner_client):
    record, visit, lead = house_with()
    kept(record, lead, PumpSetting(percent=20))
    acknowledge_all(record, lead)
    close_record(record=record, visit=visit, by=lead, now=LATER)
    FeedPump.objects.update(**TIMER)
    import_module("jobs.migrations.0037_both_figures_of_a_step").take_cycle_from_catalog(apps, None)
    page = owner_client.get(reverse("record-print", args=[record.pk])).content.decode()
    assert "cycle not written down" in page
