"""Steps of the dial-back and waits of a closed record are corrected; what rests on them follows."""

import html
import re
from datetime import timedelta

import pytest
from django.urls import reverse

from equipment.models import SettingChange, StoredAssessment
from jobs.models import Document, FollowUp, OutboxMail, RecordCorrection
from jobs.records.loading import load_sheet
from jobs.workflows.records import close_record
from tests.closings import CLOSINGS
from tests.conftest import NOW, signed_in
from tests.factories import make_rule, make_staff
from tests.record_scenes import make_ready

pytestmark = pytest.mark.django_db

HOUR = timedelta(hours=1)
#: as a box of a browser sends it: 10:00 and 14:00 by the clock of the company
SET, READ = "2026-06-10T10:00", "2026-06-10T14:00"


@pytest.fixture
def closed(clock):
    record, visit, lead = make_ready()
    clock(NOW + 5 * HOUR)
    record = close_record(record=record, visit=visit, by=lead, now=NOW + 5 * HOUR)
    return record, lead, signed_in(lead)


def put_right(client, record, told, **typed):
    where = reverse("record-correct", args=[record.pk]) + f"?{told}"
    return words(client.post(where, typed, follow=True))


def words(answered):
    said = re.sub(r"<[^>]+>", " ", answered.content.decode())
    return " ".join(html.unescape(said).split())


def step(**typed):
    usual = {"setting_percent": "20", "set_at": SET, "read_at": READ, "residual": "5-10"}
    return usual | {"reason": "written down wrong"} | typed


def wait(**typed):
    usual = {"started_at": "2026-06-10T10:00", "stopped_at": "", "reason": "pressed too late"}
    return usual | typed


# --- a step -------------------------------------------------------------------------------------


def test_the_setting_of_a_step_is_put_right_and_the_old_one_stays_readable(closed):
    record, lead, client = closed
    feeder = record.train.stages.get(kind="feeder")
    output = StoredAssessment.objects.standing().get(name="feeder-calibration")
    said = put_right(client, record, "step=1", **step(setting_percent="24"))
    assert "Version 2:" in said
    assert "Step 1 of the dial-back: 24 %, set June 10, 2026, 10:00 am" in said
    assert "instead of 20 %, set June 10, 2026, 10:00 am" in said
    printed = words(client.get(reverse("record-print", args=[record.pk])))
    assert "Why: written down wrong. Tess Alder." in printed
    setting = SettingChange.objects.standing().get(stage=feeder, line_key="steps")
    assert (setting.new_value, setting.corrects.new_value) == (24, 20)
    after = StoredAssessment.objects.standing().get(name="feeder-calibration")
    assert after.corrects == output
    ratio = after.results["output"]["value"] / output.results["output"]["value"]
    assert ratio == pytest.approx(20 / 24), "what was drawn was drawn at 24 percent"
    assert record.steps.get().setting_percent == 20
    assert Document.objects.count() == 2
    mail = OutboxMail.objects.get(template="record_corrected")
    assert mail.context["record"] == record.pk


def test_a_dose_that_moved_promises_another_recheck(closed):
    """More than the tenth at which another recheck is promised."""
    record, lead, client = closed
    above = {"dose_moved_percent": {"above": 10}}
    make_rule(event="setting_changed", filter=above, subject="train")
    before = set(FollowUp.objects.values_list("pk", flat=True))
    put_right(client, record, "step=1", **step(setting_percent="20.5"))
    assert set(FollowUp.objects.values_list("pk", flat=True)) == before
    put_right(client, record, "step=1", **step(setting_percent="26"))
    assert FollowUp.objects.exclude(pk__in=before).count() == 1


def test_a_reading_below_the_aim_does_not_pass_any_more_and_the_page_says_so(closed):
    record, lead, client = closed
    said = put_right(client, record, "step=1", **step(residual="0-0.5"))
    assert "As it is now, it does not pass." in said
    assert load_sheet(record, now=NOW + 6 * HOUR).item("steps").state == "failed"


def test_a_reading_taken_sooner_than_written_is_early(closed):
    """Three turnovers take longer than ten minutes at that tap: the reading proves nothing."""
    record, lead, client = closed
    said = put_right(client, record, "step=1", **step(read_at="2026-06-10T10:10"))
    assert "needs a residual read after three turnovers" in said
    corrected = load_sheet(record, now=NOW + 6 * HOUR).steps[0]
    assert corrected.turnovers < 3 < record.steps.get().turnovers


def test_a_later_moment_of_a_setting_is_the_moment_it_is_kept_with(closed):
    record, lead, client = closed
    put_right(client, record, "step=1", **step(set_at="2026-06-10T10:30"))
    assert SettingChange.objects.standing().get(line_key="steps").at == NOW + HOUR / 2


@pytest.mark.parametrize(
    ("typed", "refusal"),
    [
        ({"read_at": "2026-06-10T09:59"}, "before the visit"),
        ({"set_at": "2026-06-10T14:01"}, "It cannot be read before it was set."),
        ({"read_at": "2026-06-10T15:30"}, "The time lies ahead."),
        ({"read_at": ""}, "Say when it was read."),
        ({"residual": ""}, "Say what was read."),
        ({"residual": "10-5"}, "the upper end"),
        ({"residual": "much"}, "Not corrected"),
        ({"residual": "9000"}, "Residual: 0 to"),
        ({"setting_percent": "120"}, "Not corrected"),
        ({"reason": ""}, "Say why it is corrected"),
        ({}, "This is what the record says already."),
    ],
)
def test_what_cannot_have_been_is_refused_and_nothing_is_kept(closed, typed, refusal):
    record, lead, client = closed
    assert refusal in put_right(client, record, "step=1", **step(**typed))
    assert not RecordCorrection.objects.exists()
    assert Document.objects.count() == 1
    assert SettingChange.objects.filter(line_key="steps").count() == 1


def test_after_its_closing_nothing_was_done_to_a_record(closed, clock):
    record, lead, client = closed
    clock(NOW + 24 * HOUR)
    late = step(read_at="2026-06-10T15:30")
    said = put_right(signed_in(lead), record, "step=1", **late)
    assert "The record was closed before that." in said


# --- a wait -------------------------------------------------------------------------------------


@pytest.fixture
def disinfected(clock):
    """Poured and begun at 10:00; the taps were read at 23:00."""
    record = CLOSINGS["disinfection"]()
    clock(record.closed_at + HOUR)
    return record, signed_in(record.closed_by)


def test_a_wait_is_put_right_and_the_old_one_stays_readable(disinfected):
    record, client = disinfected
    typed = wait(started_at="2026-06-10T10:20", stopped_at="2026-06-10T22:40")
    said = put_right(client, record, "wait=contact", **typed)
    assert "from June 10, 2026, 10:20 am, to June 10, 2026, 10:40 pm, 12 h needed" in said
    assert "instead of from June 10, 2026, 10:00 am, 12 h needed" in said
    timer = load_sheet(record, now=NOW + 24 * HOUR).item("contact").timer
    assert (timer.started_at, timer.stopped_at) == (
        NOW + HOUR / 3,
        NOW + 12 * HOUR + 40 * HOUR / 60,
    )
    assert record.timers.get().stopped_at is None
    assert OutboxMail.objects.filter(template="record_corrected").count() == 1


def test_a_wait_that_was_too_short_does_not_pass_any_more(disinfected):
    record, client = disinfected
    said = put_right(client, record, "wait=contact", **wait(stopped_at="2026-06-10T17:00"))
    assert "As it is now, it does not pass." in said
    assert "stopped after 7.0 h." in said
    printed = words(client.get(reverse("record-print", args=[record.pk])))
    assert "stopped after 7.0 h." in printed


@pytest.mark.parametrize(
    ("typed", "refusal"),
    [
        ({"stopped_at": "2026-06-10T09:30"}, "before the visit"),
        ({"started_at": "2026-06-10T14:00", "stopped_at": "2026-06-10T13:00"}, "before it began"),
        ({"stopped_at": "2026-06-10T23:30"}, "flushing had begun"),
        ({"stopped_at": "2026-06-14T12:00"}, "The time lies ahead."),
        ({"started_at": "2026-06-10T09:30"}, "before the visit"),
        ({"reason": " "}, "Say why it is corrected"),
        ({}, "This is what the record says already."),
    ],
)
def test_a_wait_that_cannot_have_been_is_refused(disinfected, typed, refusal):
    record, client = disinfected
    assert refusal in put_right(client, record, "wait=contact", **wait(**typed))
    assert not RecordCorrection.objects.exists()


# --- who, and which -----------------------------------------------------------------------------


def test_the_page_names_steps_and_waits_with_what_the_record_says(closed, disinfected):
    record, lead, client = closed
    said = words(client.get(reverse("record-correct", args=[record.pk])))
    assert "Step 1 20 %, set June 10, 2026, 10:00 am, read June 10, 2026, 2:00 pm" in said
    record, client = disinfected
    said = words(client.get(reverse("record-correct", args=[record.pk])))
    assert "Contact time from June 10, 2026, 10:00 am" in said


def test_who_was_not_there_and_what_is_not_there(closed):
    record, lead, client = closed
    where = reverse("record-correct", args=[record.pk])
    other = signed_in(make_staff("technician"))
    for told in ("step=1", "wait=contact"):
        assert other.post(f"{where}?{told}", step()).status_code == 404
    for told in ("step=2", "step=x", "wait=contact", "wait=raw-iron", "item=steps"):
        assert client.get(f"{where}?{told}").status_code == 404
    assert signed_in(make_staff("dispatcher")).get(f"{where}?step=1").status_code == 200
