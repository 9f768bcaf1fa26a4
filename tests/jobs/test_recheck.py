"""The second visit: beside the first, use against expectation, settings found and left."""

from datetime import timedelta

import pytest
from django.urls import reverse

from equipment.models import SettingChange, SpecialUse
from jobs.errors import RecordIncomplete
from jobs.fieldwork.recheck import compare, consumption
from jobs.models import FollowUp
from jobs.records.loading import load_sheet
from jobs.workflows.answers import Place, skip_line
from jobs.workflows.records import close_record, open_record
from tests.conftest import NOW, signed_in
from tests.factories import make_job, make_rule, make_visit
from tests.record_scenes import acknowledge_all, answer, answer_all, make_house, make_ready

pytestmark = pytest.mark.django_db
SECOND = NOW + timedelta(days=14)

#: what these tests compare with the start-up
FOUND = {"level-found": "11.5", "raw-iron": "3.1"}


@pytest.fixture
def second():
    """A closed start-up, and the recheck two weeks later with everything but the setting."""
    startup, visit, lead = make_ready()
    close_record(record=startup, visit=visit, by=lead, now=NOW + timedelta(hours=5))
    job = make_job(train=startup.train, kind="recheck", now=SECOND)
    again = make_visit(job=job, lead=lead, starts_at=SECOND)
    record = open_record(job=job, purpose="recheck", by=lead, now=SECOND)
    answer_all(record, lead, answers=FOUND, without=("pump-setting", "steps"), now=SECOND)
    acknowledge_all(record, lead, now=SECOND)
    return record, again, lead


def set_left(record, lead, *, found, left):
    feeder = record.train.stages.get(kind="feeder")
    for side, text in (("found", found), ("left", left)):
        answer(record, lead, "pump-setting", text, stage=feeder, side=side, now=SECOND)
    return feeder


def test_a_recheck_needs_the_stop_test_and_the_setting(second):
    record, visit, lead = second
    with pytest.raises(RecordIncomplete) as refused:
        close_record(record=record, visit=visit, by=lead, now=SECOND)
    assert [key.split(".")[0] for key, _ in refused.value.missing] == ["pump-setting"]


def test_today_stands_beside_the_start_up(second):
    record, *_ = second
    sheet = load_sheet(record, now=SECOND)
    rows = {row.label: (row.before, row.today) for row in compare(sheet, "recheck-water")}
    assert rows["Iron, raw"] == ("3", "3.1")
    assert not rows.keys() & {row.label for row in compare(sheet, "recheck-setting")}
    assert rows["Iron, kitchen tap"] == ("< 0.05", "< 0.05")
    assert rows["Peroxide before the carbon, after the contact tank"] == ("8", "8")


def test_solution_used_is_compared_with_what_was_worked_out(second):
    record, *_ = second
    glass = consumption(load_sheet(record, now=SECOND))
    assert glass.answer == "0.50"  # 12 gal after the fill, 11.5 gal found
    assert glass.rows[0] == ("Days since then", "14.0", "day")
    assert glass.alt.startswith("12 gal on")


@pytest.mark.parametrize(
    ("share", "is_said"), [(0.7, True), (0.8, False), (1.2, False), (1.3, True)]
)
def test_a_use_off_by_more_than_a_quarter_is_said(second, share, is_said):
    """A quarter is common practice, no source."""
    record, _, lead = second
    feeder = record.train.stages.get(kind="feeder")
    rows = {row[0]: row[1] for row in consumption(load_sheet(record, now=SECOND)).rows}
    found = 12 - share * float(rows["Worked out for that time"])
    answer(record, lead, "level-found", f"{found:.3f}", stage=feeder, now=SECOND)
    warnings = consumption(load_sheet(record, now=SECOND)).warnings
    assert any("Off by more than a quarter" in line for line in warnings) is is_said


def test_more_than_was_filled_is_said(second):
    record, _, lead = second
    feeder = record.train.stages.get(kind="feeder")
    answer(record, lead, "level-found", "14", stage=feeder, now=SECOND)
    glass = consumption(load_sheet(record, now=SECOND))
    assert "somebody filled it" in glass.warnings[0]


@pytest.mark.parametrize(("left", "again"), [("20", 0), ("18.1", 0), ("22.2", 1)])
def test_a_dose_moved_by_more_than_a_tenth_promises_another_recheck(second, left, again):
    make_rule(
        event="setting_changed", filter={"dose_moved_percent": {"above": 10}}, subject="train"
    )
    record, visit, lead = second
    feeder = set_left(record, lead, found="20", left=left)
    close_record(record=record, visit=visit, by=lead, now=SECOND)
    assert FollowUp.objects.filter(rule__code="f1").count() == again
    changes = SettingChange.objects.filter(occasion=record.uuid, name="output_percent")
    assert changes.count() == (0 if left == "20" else 1)
    if left != "20":
        assert (changes.get().old_value, changes.get().stage) == (20, feeder)


def test_a_setting_somebody_changed_meanwhile_is_kept_as_found(second):
    record, visit, lead = second
    set_left(record, lead, found="60", left="20")
    close_record(record=record, visit=visit, by=lead, now=SECOND)
    change = SettingChange.objects.get(occasion=record.uuid, name="output_percent")
    assert (change.old_value, change.new_value) == (60, 20)


def test_the_dose_of_today_is_that_of_the_setting_as_it_was_left(second):
    record, _, lead = second
    for left, value in ((None, 20), ("25", 25)):
        if left:
            set_left(record, lead, found="20", left=left)
        outcomes = load_sheet(record, now=SECOND).outcomes
        assert outcomes.of("dose-from-setting").known["setting"].value == value


def test_a_defect_found_says_what_was_wrong(second):
    record, visit, lead = second
    set_left(record, lead, found="20", left="20")
    answer(record, lead, "recheck-outcome", "defect_found", now=SECOND)
    with pytest.raises(RecordIncomplete) as refused:
        close_record(record=record, visit=visit, by=lead, now=SECOND)
    assert [key for key, _ in refused.value.missing] == ["defect"]
    answer(record, lead, "defect", "injection valve clogged", now=SECOND)
    assert close_record(record=record, visit=visit, by=lead, now=SECOND).is_closed


def test_the_pages_of_a_recheck_open(second):
    record, _, lead = second
    client = signed_in(lead)
    for block in load_sheet(record, now=SECOND).blocks:
        answered = client.get(reverse("record-block", args=[record.pk, block.key]))
        assert answered.status_code == 200
        if block.key == "recheck-water":
            assert "The start-up beside today" in answered.content.decode()


def test_uses_ticked_at_a_survey_stand_at_the_house_and_stop_chlorine():
    record, visit, lead = make_house(purpose="survey", kind="survey")
    answer(record, lead, "use-dialysis", "yes")
    answer(record, lead, "cut-in", "30", side="left")
    answer(record, lead, "cut-out", "50", side="left")
    for item in load_sheet(record, now=NOW).items:
        if item.stops_closing and not item.line.is_gate:
            skip_line(
                record=record,
                place=Place(item.line.key, item.stage, item.sides[-1]),
                by=lead,
                now=NOW,
                reason="for this test",
            )
    acknowledge_all(record, lead)
    answer(record, lead, "precharge", "28", side="left")
    close_record(record=record, visit=visit, by=lead, now=NOW)
    use = SpecialUse.objects.get(site=record.site)
    assert use.kind == "dialysis"
    assert use.blocks_oxidant
