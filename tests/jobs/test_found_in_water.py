"""Whether the water has sulfide, iron or manganese: one answer in record, plan, page and report.

A test that found nothing says so with "<"; the figure behind it is the least it could have seen.
"""

import pytest

from equipment.models import Measurement
from equipment.models.measurements import counted_value
from equipment.on_file import known
from equipment.quantities import CARRIED, is_found
from jobs.fieldwork.keys import PanelName
from jobs.models import Company, HandoverFact
from jobs.pages.site_readings import kinds_of, ours_of, rows_of
from jobs.records.loading import load_sheet
from jobs.workflows.measurements import Reading, record_measurement
from jobs.workflows.plans import plan_of
from tests.acts import worked
from tests.conftest import NOW
from tests.factories import make_staff
from tests.record_scenes import answer, make_house

pytestmark = pytest.mark.django_db
#: company values, common practice: with sulfide, and for iron alone
WITH, WITHOUT = (5, 15), (2, 10)


def raw(site, key, text, by):
    reading = Reading(key, text, origin="measured", place="raw")
    return record_measurement(about=site, reading=reading, measured_at=NOW, by=by, now=NOW)


def has_sulfide(record):
    """What each place says of the same water."""
    train, sheet = record.train, load_sheet(record, now=NOW)
    demand = sheet.outcomes.of(PanelName.OXIDANT_DEMAND).known["sulfide"]
    plan = plan_of(train)
    dose = plan.result("oxidant-demand", "dose", "mg/L")
    demanded = plan.result("oxidant-demand", "demand", "mg/L")
    job = worked(train, make_staff("technician"), at=NOW)
    stages = list(train.stages.with_catalog())
    kinds = kinds_of(rows_of(record.site), stages, "us", NOW.date())
    return {
        "aim of the record": sheet.aim == WITH,
        "demand of the record": demand.value > 0,
        "plan": dose == pytest.approx(2 * demanded + sum(WITH) / 2, rel=1e-3),
        "chart of the house": ours_of(Company.load(), stages, kinds).has_sulfide,
        "report": HandoverFact.objects.get(job=job).water == "sulfide",
    }


@pytest.mark.parametrize(
    ("text", "found"), [("5", True), ("< 5", False), ("0", False), ("> 5", True)]
)
def test_has_sulfide(text, found):
    record, _, lead = make_house()
    for key, figure in (("iron", "3"), ("ph", "7"), ("sulfide", text)):
        raw(record.site, key, figure, lead)
    said = has_sulfide(record)
    assert said == dict.fromkeys(said, found)


@pytest.mark.parametrize(("text", "aim"), [("< 0.1", WITHOUT), ("0.1", WITH), ("0", WITHOUT)])
def test_what_is_read_at_the_house_comes_before_the_file(text, aim):
    record, _, lead = make_house()
    raw(record.site, "sulfide", "2" if aim == WITHOUT else "< 0.1", lead)
    answer(record, lead, "raw-sulfide", text)
    sheet = load_sheet(record, now=NOW)
    assert sheet.aim == aim
    counted = sheet.outcomes.of(PanelName.OXIDANT_DEMAND).known["sulfide"].value
    assert (counted > 0) is (aim == WITH)


@pytest.mark.parametrize("key", ["iron", "manganese", "sulfide", "ammonia", "ph", "chlorine"])
@pytest.mark.parametrize("text", ["< 2", "2", "> 2"])
def test_database_and_code_count_with_the_same_figure(key, text):
    """Of a residual that was not found the limit of the test is used, which is the safe side."""
    record, _, lead = make_house()
    row = raw(record.site, key, text, lead)
    in_query = Measurement.objects.annotate(counted=counted_value()).get(pk=row.pk).counted
    assert in_query == known(row).value == (0 if key in CARRIED and text == "< 2" else 2)


def test_what_was_not_found_says_how_it_is_counted():
    record, _, lead = make_house()
    assert known(raw(record.site, "iron", "< 0.05", lead)).origin.endswith("counted as none")
    assert known(raw(record.site, "chlorine", "< 0.1", lead)).origin.endswith("limit is used")


def test_nothing_and_no_reading_are_not_found():
    assert [is_found(None), is_found(0.0), is_found(0.1, "<"), is_found(0.1)] == [
        *[False] * 3,
        True,
    ]
