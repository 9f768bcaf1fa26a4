"""The plan of a system, from what is on file, as a page and as evidence."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from equipment.models import StoredAssessment, Train
from jobs.fieldwork.keys import PanelName
from jobs.records.loading import load_sheet
from jobs.workflows.plans import plan_of
from jobs.workflows.records import close_record
from tests.conftest import NOW
from tests.factories import make_measurement, make_setting, make_startup_train
from tests.jobs.test_rules_pages import company_form
from tests.python_shown import python_in
from tests.record_scenes import make_ready

pytestmark = pytest.mark.django_db


@pytest.fixture
def train():
    train = make_startup_train(switching="switch_load", injection="before", retention_side="before")
    well = train.wells.first()
    for key, value in (("pump_flow", 8), ("well_yield", 8), ("cut_out", 60), ("static_level", 60)):
        make_measurement(well=well, quantity_key=key, value=value)
    for key, value in (("iron", 3), ("sulfide", 2), ("hardness", 240), ("temperature", 11)):
        make_measurement(site=train.site, quantity_key=key, value=value, place="raw")
    for key, value in (("people", 4), ("peak_flow", 6)):
        make_measurement(site=train.site, quantity_key=key, value=value)
    return train


def test_figures_on_file_reach_the_calculations(train):
    plan = plan_of(train)
    # sulfide on file: factor 2 on the molar sum, middle of the company's 5 to 15 mg/L on top
    wanted = 2 * (3 * 17.0073 / 55.845 + 2 * 34.0147 / 34.081) + 10
    assert plan.result("oxidant-demand", "dose", "mg/L") == pytest.approx(wanted, rel=2e-4)
    tank = str(train.stages.get(kind="retention").pk)
    assert plan.result("contact", "detention", "min", tank) == pytest.approx(120 / 8)


def test_a_tank_too_small_for_the_companys_shortest_retention_is_said(train, owner_client):
    """120 gal at 8 gpm are 15 minutes: more than the usual 10, less than the 20 written here."""
    where = reverse("train-plan", args=[train.pk])
    assert "too short a time" not in owner_client.get(where).content.decode()
    sent = company_form(owner_client) | {"retention_minimum_min": 20}
    assert owner_client.post(reverse("company"), sent).status_code == 302
    assert "15 min, 20 min wanted" in owner_client.get(where).content.decode()


def test_a_measured_strength_wins_over_the_label(train):
    before = plan_of(train).result("feed-setting", "setting", "percent")
    feeder = train.stages.get(kind="feeder")
    make_setting(stage=feeder, name="solution_strength_g_l", new_value=35.8, unit="g/L")
    after = plan_of(train).result("feed-setting", "setting", "percent")
    assert after == pytest.approx(before * feeder.product.strength_g_l / 35.8)


def test_the_output_drawn_from_the_cylinder_wins_over_the_plate():
    """At the start-up 180 s at 20 percent drew 26 mL: 26 / 3 / 0.2 mL/min at 100 percent."""
    record, visit, lead = make_ready()
    close_record(record=record, visit=visit, by=lead, now=NOW + timedelta(hours=5))

    def setting_and_rate():
        plan = plan_of(Train.objects.get(pk=record.train_id))
        return (
            plan.result("feed-setting", "setting", "percent"),
            plan.result("feed-setting", "feed_rate", "mL/min"),
        )

    setting, rate = setting_and_rate()
    assert setting == pytest.approx(100 * rate / (26 / 3 / 0.2), rel=1e-4)
    feeder = record.train.stages.get(kind="feeder")
    feeder.fitted_on = NOW.date() + timedelta(days=1)  # another pump: nobody has drawn from it yet
    feeder.save()
    setting, rate = setting_and_rate()
    plate = feeder.feed_pump.nameplate_output_gpd * 3785.411784 / 1440
    assert setting == pytest.approx(100 * rate / plate, rel=1e-4)


def test_the_page_shows_figures_and_conflicts(dispatcher_client, train):
    train.injection = "after"
    train.save()
    page = dispatcher_client.get(reverse("train-plan", args=[train.pk])).content.decode()
    assert "injects after the pressure tank" in page
    assert python_in(page) == ""
    assert "How this was worked out" in page


def test_keeping_it_stores_what_was_worked_out(dispatcher_client, train):
    dispatcher_client.post(reverse("train-plan", args=[train.pk]))
    stored = StoredAssessment.objects.get(name="train-plan")
    assert stored.results["method_version"] == "train-plan/3"
    assert {step["name"] for step in stored.results["steps"]} >= {"feed-setting", "contact"}


def test_a_technician_sees_only_systems_of_own_visits(technician_client, train):
    assert technician_client.get(reverse("train-plan", args=[train.pk])).status_code == 404


def test_the_page_asks_a_steady_number_of_questions(
    dispatcher_client, train, django_assert_max_num_queries
):
    with django_assert_max_num_queries(20):
        dispatcher_client.get(reverse("train-plan", args=[train.pk]))


def test_closing_a_start_up_keeps_the_plan_of_its_day():
    record, visit, lead = make_ready()
    close_record(record=record, visit=visit, by=lead, now=NOW + timedelta(hours=5))
    stored = StoredAssessment.objects.get(name="train-plan")
    assert stored.occasion == record.uuid
    assert stored.train == record.train


def test_plan_record_and_print_say_one_supply(dispatcher_client):
    """Left at 20 percent, which is not what was worked out: the tank lasts what it feeds then."""
    record, visit, lead = make_ready()
    close_record(record=record, visit=visit, by=lead, now=NOW + timedelta(hours=5))
    sheet = load_sheet(record, now=NOW + timedelta(hours=5))
    left = sheet.outcomes.of(PanelName.DOSE_FROM_SETTING)
    days = 12 / left.value("solution_per_day")  # the 12 gal that were filled
    assert left.value("days_of_supply") == pytest.approx(days)
    planned = plan_of(record.train).result("feed-setting", "days_of_supply", "day")
    assert planned != pytest.approx(days, rel=0.02)
    where = reverse("train-plan", args=[record.train_id])
    plan = " ".join(re.sub(r"<[^>]+>", " ", dispatcher_client.get(where).content.decode()).split())
    found = re.search(r"The tank lasts, at the setting left, 10 Jun 2026 ([\d.]+)", plan)
    assert float(found[1]) == pytest.approx(days, rel=5e-3)
    where = reverse("record-print", args=[record.pk])
    paper = " ".join(re.sub(r"<[^>]+>", " ", dispatcher_client.get(where).content.decode()).split())
    found = re.search(r"lasts at this setting ([\d.]+)", paper)
    assert float(found[1]) == pytest.approx(days, rel=5e-3)
