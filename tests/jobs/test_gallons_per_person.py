"""One house uses one amount of water a day: in its plan, on its record, and at its softener."""

import pytest

from equipment.assessments import Aims, facts_of
from equipment.engineering.plumbing.demand import household_use_gal
from jobs.records.loading import load_sheet
from jobs.workflows.plans import plan_of
from tests.conftest import NOW
from tests.factories import make_measurement
from tests.record_scenes import make_house

pytestmark = pytest.mark.django_db
HARDNESS_MG_L = 240
PEOPLE = 3


@pytest.fixture
def record():
    record, _, _ = make_house()
    on_file = (("hardness", HARDNESS_MG_L, "raw"), ("iron", 0, "raw"), ("people", PEOPLE, ""))
    for key, value, place in on_file:
        make_measurement(site=record.site, quantity_key=key, value=value, place=place)
    record.train.stages.filter(kind="softener").update(salt_dose_lb_ft3=8)
    return record


def part(sheet, kind):
    return next(stage for stage in sheet.stages if stage.kind == kind)


def uses(record):
    """Gallons a day of the house, as each reader of it counts them."""
    train, sheet = record.train, load_sheet(record, now=NOW)
    softener = train.stages.get(kind="softener")
    bed = sheet.outcomes.of("filter-interval", part(sheet, "filter"))
    regeneration = sheet.outcomes.of("softener", part(sheet, "softener"))
    planned = plan_of(train).step("softener", str(softener.pk))
    return {
        "plan, beds and supply": facts_of(train, Aims()).house.daily_use.m_as("gallon"),
        "plan, softener": planned.gallons_between.m_as("gallon") / planned.days.m_as("day"),
        "record, beds": bed.known["daily_use"].value,
        "record, supply": sheet.outcomes.of("feed-setting").known["daily_use"].value,
        "record, softener": regeneration.value("gallons_between") / regeneration.value("days"),
    }


def test_where_nobody_read_a_meter_every_reader_counts_the_same_gallons(record):
    found = uses(record)
    assert found == pytest.approx(dict.fromkeys(found, household_use_gal(PEOPLE)))


def test_a_meter_replaces_the_figure_for_every_reader(record):
    make_measurement(site=record.site, quantity_key="daily_use", value=190)
    found = uses(record)
    assert found == pytest.approx(dict.fromkeys(found, 190))
