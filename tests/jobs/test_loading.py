"""What a record reads beside its own answers: the file as it was, the work before, the notices."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.fieldwork.recheck import compare, consumption
from jobs.records.loading import load_all, load_facts, load_sheet
from jobs.workflows.measurements import Reading, record_measurement
from jobs.workflows.notices import Danger, open_notice
from jobs.workflows.records import close_record, open_record
from tests.acts import HOUR, booked, closed, opened
from tests.conftest import NOW
from tests.factories import make_startup_train, make_well
from tests.record_scenes import (
    READINGS,
    acknowledge_all,
    answer,
    answer_all,
    make_house,
    make_ready,
    read_final_step,
)

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def worked_again(train, lead, *, kind, at, answers=None, percent=None):
    """Another visit to the system with its record, closed."""
    job = opened(train, kind, at=at)
    visit = booked(job, lead, at=at)
    record = open_record(job=job, purpose=kind, by=lead, now=at)
    without = ("pump-setting", "steps")
    answer_all(record, lead, answers=answers, without=without, now=at)
    if kind == "startup":
        read_final_step(record, lead, now=at, percent=percent or 20)
    else:
        feeder = train.stages.get(kind="feeder")
        for side, text in (("found", "20"), ("left", f"{percent or 20}")):
            answer(record, lead, "pump-setting", text, stage=feeder, side=side, now=at)
    acknowledge_all(record, lead, now=at)
    record = close_record(record=record, visit=visit, by=lead, now=at + 5 * HOUR)
    closed(visit, at=at + 6 * HOUR)
    return record


def begun_again(train, lead, *, at, kind="recheck"):
    job = opened(train, kind, at=at)
    booked(job, lead, at=at)
    return open_record(job=job, purpose=kind, by=lead, now=at)


def started_up():
    record, visit, lead = make_ready()
    record = close_record(record=record, visit=visit, by=lead, now=NOW + 5 * HOUR)
    closed(visit, at=NOW + 6 * HOUR)
    return record, lead


def test_a_closed_record_keeps_the_figures_that_were_on_file_then():
    record, visit, lead = make_ready()
    well = record.train.wells.get()
    for day, text in ((-1, "50"), (10, "60")):
        record_measurement(
            about=well,
            reading=Reading("cut_out", text, origin="measured"),
            measured_at=NOW + day * DAY,
            by=lead,
            now=NOW + day * DAY,
        )
        if day < 0:
            record = close_record(record=record, visit=visit, by=lead, now=NOW + 5 * HOUR)
    later = load_facts(record, now=NOW + 20 * DAY)
    assert [row.value for row in later.readings if row.quantity == "cut_out"] == [50]


def test_a_figure_that_was_looked_at_twice_counts_and_one_that_was_not_waits():
    record, _, lead = make_house()
    for confirmed, state in ((False, "look"), (True, "answered")):
        answer(record, lead, "raw-iron", "90", confirmed=confirmed)
        item = load_sheet(record, now=NOW).item("raw-iron")
        assert item.deciding.warning
        assert item.deciding.is_confirmed is confirmed
        assert item.state.startswith(state)


def test_one_well_of_two_in_a_pit_warns_of_the_pit():
    record, *_ = make_house()
    assert not load_facts(record, now=NOW).record.well_in_pit
    record.train.wells.add(make_well(site=record.site, head_in_pit=True))
    assert load_facts(record, now=NOW).record.well_in_pit


def test_a_notice_of_another_house_stops_nothing_here():
    record, _, lead = make_house()
    for site, standing in ((make_startup_train().site, 0), (record.site, 1)):
        danger = Danger(site, "no_use", "chlorine in the pipes")
        open_notice(danger=danger, by=lead, now=NOW)
        assert len(load_facts(record, now=NOW).notices) == standing


def test_a_recheck_stands_beside_the_last_start_up_of_its_system():
    first, lead = started_up()
    worked_again(first.train, lead, kind="startup", at=NOW + 60 * DAY, answers={"raw-iron": "4"})
    again = begun_again(first.train, lead, at=NOW + 74 * DAY)
    sheet = load_sheet(again, now=NOW + 74 * DAY)
    rows = {row.label: row.before for row in compare(sheet, "recheck-water")}
    assert rows["Iron, raw"] == "4"


def used_in_a_day(train, lead, *, at):
    """Gallons of solution that the recheck expects to be gone for each day since the fill."""
    record = begun_again(train, lead, at=at)
    feeder = train.stages.get(kind="feeder")
    answer(record, lead, "level-found", "5", stage=feeder, now=at)
    rows = {row[0]: row[1] for row in consumption(load_sheet(record, now=at)).rows}
    return float(rows["Worked out for that time"]) / float(rows["Days since then"])


def test_the_use_that_is_expected_follows_the_setting_left_last_on_this_system():
    """Twice the setting draws twice as much from the cylinder, and feeds twice the solution."""
    first, lead = started_up()
    at_20 = used_in_a_day(first.train, lead, at=NOW + 40 * DAY)
    drawn = {"feed-drawn": f"{2 * float(READINGS['feed-drawn']):g}"}
    at = NOW + 42 * DAY
    worked_again(first.train, lead, kind="recheck", at=at, percent=40, answers=drawn)
    at_40 = used_in_a_day(first.train, lead, at=NOW + 44 * DAY)
    assert at_40 == pytest.approx(2 * at_20, rel=0.03)
    # what another house uses, worked out later, is of that house
    train = make_startup_train(injection="before", switching="switch_load")
    worked_again(train, lead, kind="startup", at=NOW + 46 * DAY, percent=80)
    assert used_in_a_day(first.train, lead, at=NOW + 48 * DAY) == pytest.approx(at_40, rel=0.03)


def test_several_records_are_read_as_each_alone_in_as_many_queries():
    """Two houses on one well, one of them with two systems, and a third beside them."""
    first, _, lead = make_house()
    well = first.train.wells.get()
    shared = make_startup_train()
    well.also_serves.add(shared.site)
    second = make_startup_train(site=first.site, name="Barn")
    begun = ((shared, "recheck"), (second, "startup"), (make_startup_train(), "startup"))
    records = [first]
    for days, (train, kind) in enumerate(begun, start=1):
        records.append(begun_again(train, lead, at=NOW + days * DAY, kind=kind))
    now = NOW + 10 * DAY
    danger = Danger(first.site, "no_drinking", "E. coli", well=well)
    open_notice(danger=danger, by=lead, now=NOW)
    reading = Reading("cut_out", "50", origin="measured")
    record_measurement(about=well, reading=reading, measured_at=NOW, by=lead, now=NOW)
    for record, text in zip(records[:2], ("3", "4"), strict=True):
        answer(record, lead, "raw-iron", text, now=NOW)
    alone = {record.pk: load_facts(record, now=now) for record in records}
    assert load_all(records, now=now) == alone
    assert [len(alone[record.pk].notices) for record in records] == [1, 1, 1, 0]

    def asked(several):
        with CaptureQueriesContext(connection) as seen:
            load_all(several, now=now)
        return len(seen)

    starts = [record for record in records if record.template.purpose == "startup"]
    assert len(starts) == 3
    # of several houses it is asked once which wells and which notices are whose
    assert asked(starts) <= asked(starts[:1]) + 2
