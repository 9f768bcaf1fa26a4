"""What is on file: the plan, the record, the form of the well and the page of the house agree."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from equipment.assessments import Aims, facts_of
from equipment.on_file import OnFile, tap_of
from jobs.fieldwork.keys import PanelName
from jobs.forms.wells import known_figures
from jobs.pages.site import context_of
from jobs.records.loading import load_facts, load_sheet
from jobs.workflows.measurements import Reading, record_measurement
from jobs.workflows.samples import Result, enter_result
from jobs.workflows.trains import end_stage
from tests.conftest import NOW, signed_in
from tests.factories import Sample, make_sample, make_stage, make_well
from tests.record_scenes import make_house

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def house():
    record, _, lead = make_house()
    return record, lead


def measured(about, key, text, by, *, at=NOW, place="", corrects=None):
    return record_measurement(
        about=about,
        reading=Reading(key, text, origin="measured", place=place),
        measured_at=at,
        by=by,
        now=NOW,
        corrects=corrects,
    )


def of_record(record):
    return {(row.quantity, row.place): row.value for row in load_facts(record, now=NOW).readings}


def cut_out(record):
    """The cut-out pressure, psi, as each reader of the file has it."""
    site, train = record.site, record.train
    well = train.wells.get()
    page = context_of(site, now=NOW, system="us")
    on_page = next(row for row in page["wells"][0]["facts"] if row["label"] == "Cut-out")
    known = known_figures(site, well)["cut_out"]
    return {
        "plan": facts_of(train, Aims()).source.cut_out.m_as("psi"),
        "record": of_record(record)["cut_out", ""],
        "form of the well": known.value,
        "page of the house": float(on_page["value"]),
    }


def raw_iron(record):
    """Iron of the raw water, mg/L, the same way."""
    table = context_of(record.site, now=NOW, system="us")["readings"]
    line = next(row for row in table.rows if row.label == "Iron")
    raw = next(cell for cell in line.cells if cell.column.title == "Raw")
    return {
        "plan": facts_of(record.train, Aims()).water.iron.m_as("mg/L"),
        "record": of_record(record)["iron", "raw"],
        "page of the house": float(raw.value),
    }


def all_say(found, value):
    assert found == pytest.approx(dict.fromkeys(found, value))


@pytest.mark.parametrize(("days", "wanted"), [(-1, 60), (1, 50)])
def test_of_house_and_well_the_newest_counts(house, days, wanted):
    record, lead = house
    measured(record.train.wells.get(), "cut_out", "60", lead, at=NOW - 10 * DAY)
    measured(record.site, "cut_out", "50", lead, at=NOW - 10 * DAY + days * DAY)
    all_say(cut_out(record), wanted)


def test_a_well_that_the_system_does_not_draw_from_says_nothing(house):
    record, lead = house
    measured(record.train.wells.get(), "cut_out", "60", lead, at=NOW - 10 * DAY)
    measured(make_well(site=record.site), "cut_out", "45", lead, at=NOW - DAY)
    all_say(cut_out(record), 60)


def test_a_corrected_figure_gives_way(house):
    record, lead = house
    wrong = measured(record.train.wells.get(), "cut_out", "66", lead, at=NOW - DAY)
    measured(wrong.well, "cut_out", "60", lead, at=NOW - 2 * DAY, corrects=wrong)
    all_say(cut_out(record), 60)


def test_what_a_laboratory_found_in_raw_water_counts_as_raw_water(house):
    record, lead = house
    measured(record.site, "iron", "2.5", lead, at=NOW - 9 * DAY, place="raw")
    taken = make_sample(
        site=record.site,
        kind="annual",
        place="as_written",
        tap_name="raw tap at the well",
        taken_at=NOW - 5 * DAY,
        by=lead,
    )
    enter_result(
        sample=taken,
        result=Result(
            Sample.Outcome.RESULTS,
            NOW.date(),
            figures=[Reading("iron", "3.1", origin="laboratory")],
        ),
        by=lead,
        now=NOW,
    )
    all_say(raw_iron(record), 3.1)


def test_the_kitchen_is_not_the_raw_water(house):
    record, lead = house
    measured(record.site, "iron", "2.5", lead, at=NOW - 9 * DAY, place="raw")
    measured(record.site, "iron", "0.1", lead, at=NOW - DAY, place="tap")
    all_say(raw_iron(record), 2.5)


def test_many_later_readings_do_not_push_a_figure_off_the_page(house):
    record, lead = house
    measured(record.train.wells.get(), "cut_out", "60", lead, at=NOW - 900 * DAY)
    for hours in range(420):
        measured(record.site, "ph", "7", lead, at=NOW - timedelta(hours=hours), place="tap")
    all_say(cut_out(record), 60)


def test_what_was_found_gives_way_to_what_was_left(house):
    """The left side is typed first here, and the found one put right afterwards."""
    record, lead = house
    well = record.train.wells.get()
    for side, value, minute in (("left", 60, 1), ("found", 40, 9)):
        well.measurements.create(
            quantity_key="cut_out",
            value=value,
            side=side,
            origin="measured",
            measured_at=NOW - DAY + timedelta(minutes=minute),
            recorded_at=NOW,
            recorded_by=lead,
            occasion=record.uuid,
        )
    all_say(cut_out(record), 60)


def test_a_record_reads_what_was_on_file_at_its_moment(house):
    record, lead = house
    measured(record.train.wells.get(), "cut_out", "60", lead, at=NOW - DAY)
    measured(record.train.wells.get(), "cut_out", "50", lead, at=NOW)
    then = OnFile(record.site, until=NOW - DAY / 2)
    assert (then.value("cut_out"), OnFile(record.site).value("cut_out")) == (60, 50)


def test_what_was_measured_on_a_part_is_not_the_flow_of_the_pump(house):
    record, lead = house
    measured(record.train.wells.get(), "pump_flow", "8", lead, at=NOW - DAY)
    measured(record.train.stages.get(kind="filter"), "pump_flow", "3", lead)
    outcomes = load_sheet(record, now=NOW).outcomes
    assert outcomes.of(PanelName.DOSE_FROM_SETTING).known["flow"].value == 8


def test_it_is_read_in_two_queries(house, django_assert_num_queries):
    record, lead = house
    measured(record.site, "iron", "2.5", lead, place="raw")
    with django_assert_num_queries(2):
        OnFile(record.site).counting(()).take("iron", "raw")


def test_a_tap_belongs_to_the_part_that_stood_there_on_that_day(house):
    """A second tank stood there in January; read in June, it is behind the first again."""
    record, lead = house
    first = record.train.stages.get(kind="retention")
    fitted, gone = date(2026, 1, 20), date(2026, 2, 1)
    second = make_stage(train=record.train, kind="retention", fitted_on=fitted)
    end_stage(stage=second, on=gone, by=lead, now=NOW)
    row = measured(record.site, "peroxide", "8", lead, place="after_retention")
    assert tap_of(row, record.train.stages.all()) == ("after_stage", first.pk)
    html = signed_in(lead).get(reverse("site-history", args=[record.site_id])).content.decode()
    assert "taken out Feb 2026" not in html
