"""A correction shows that a closed record did not pass: who knows it, and what is promised."""

import html
import re
from datetime import date, timedelta

import pytest
from django.contrib.auth.models import User
from django.core.management import call_command
from django.urls import reverse

from jobs.models import DoNotUse, FollowUp, OutboxMail
from jobs.records.bacteria import case_of
from jobs.records.loading import load_sheet
from jobs.workflows.records import close_record
from tests.acts import HOUR, closed
from tests.closings import CLOSINGS
from tests.conftest import NOW, signed_in
from tests.factories import make_staff
from tests.jobs.mail.letters import words_of
from tests.record_scenes import make_ready

pytestmark = pytest.mark.django_db
#: of twelve hours, from 10:00; by the clock of the company
SEVEN, FOURTEEN = "2026-06-10T17:00", "2026-06-11T00:00"


def words(answered):
    said = re.sub(r"<[^>]+>", " ", answered.content.decode())
    return " ".join(html.unescape(said).split())


@pytest.fixture
def disinfected(clock):
    """Poured and begun at 10:00, read at 23:00; closed with its sample and promise ahead."""
    call_command("load_rules", verbosity=0)
    record = CLOSINGS["disinfection"]()
    clock(record.closed_at + HOUR)
    return record


def lasted_until(record, stopped_at, *, by=None):
    """Its technician puts the end of the contact time right."""
    typed = {
        "started_at": "2026-06-10T10:00",
        "stopped_at": stopped_at,
        "reason": "flushed before supper",
    }
    where = reverse("record-correct", args=[record.pk]) + "?wait=contact"
    return words(signed_in(by or record.closed_by).post(where, typed, follow=True))


def again():
    return FollowUp.objects.alive().filter(rule__code="f14")


def worklist():
    return words(signed_in(make_staff("dispatcher")).get(reverse("worklist")))


def test_a_contact_that_was_too_short_is_a_disinfection_to_do_again(disinfected):
    assert "Disinfection to do again" not in worklist()
    said = lasted_until(disinfected, SEVEN)
    assert "As it is now, it does not pass." in said
    assert "The office has it on the worklist: Disinfection to do again." in said
    promise = again().get()
    assert promise.due_on == date(2026, 6, 12), "the correction is of the night to 11 June"
    assert "the chlorine worked for too short" in worklist()
    assert DoNotUse.objects.standing().get().level == "sample_pending"


def test_the_customer_reads_that_it_is_done_again(disinfected):
    lasted_until(disinfected, SEVEN)
    letter = words_of(OutboxMail.objects.get(template="record_corrected"))
    assert "This is still ahead of us because of it: Disinfection to do again." in letter
    assert "Why: flushed before supper" in letter


def test_pressed_twice_and_corrected_again_it_is_promised_once(disinfected):
    lasted_until(disinfected, SEVEN)
    lasted_until(disinfected, SEVEN)
    lasted_until(disinfected, "2026-06-10T18:00")
    assert again().count() == 1


def test_a_correction_of_the_correction_ends_the_promise(disinfected):
    lasted_until(disinfected, SEVEN)
    said = lasted_until(disinfected, "2026-06-10T22:30")
    assert "worklist" not in said.split("Corrected.")[1].split("Version")[0]
    assert not again().exists()
    ended = FollowUp.objects.get(rule__code="f14")
    assert (ended.status, ended.ended_reason) == ("waived", "corrected: it passes after all")
    letter = words_of(OutboxMail.objects.filter(template="record_corrected").latest("pk"))
    assert "still ahead of us" not in letter


def test_long_enough_is_long_enough(disinfected):
    lasted_until(disinfected, "2026-06-10T22:30")
    assert not FollowUp.objects.filter(details__event="found_wanting").exists()


def test_days_after_the_chlorine_count_from_when_it_was_read_to_be_out(disinfected):
    """The contact was over at ten in the evening and the taps read at two past eleven."""
    notice, later = DoNotUse.objects.standing().get(), NOW + timedelta(days=9)
    out = NOW + 13 * HOUR + timedelta(minutes=2)
    assert case_of(notice, now=later).chlorine_until == out
    lasted_until(disinfected, SEVEN)
    assert case_of(notice, now=later).chlorine_until == out


def test_any_other_line_that_fails_is_looked_at_by_the_office(clock):
    call_command("load_rules", verbosity=0)
    record, visit, lead = make_ready()
    record = close_record(record=record, visit=visit, by=lead, now=NOW + 5 * HOUR)
    closed(visit, at=NOW + 6 * HOUR, feeder="on")
    clock(NOW + 7 * HOUR)
    where = reverse("record-correct", args=[record.pk]) + "?step=1"
    typed = {
        "setting_percent": "20",
        "set_at": "2026-06-10T10:00",
        "read_at": "2026-06-10T14:00",
        "residual": "0-0.5",
        "reason": "read on another strip",
    }
    said = words(signed_in(lead).post(where, typed, follow=True))
    assert "The office has it on the worklist: Closed record that does not pass." in said
    assert load_sheet(record, now=NOW + 7 * HOUR).item("steps").state == "failed"
    assert not again().exists()
    promise = FollowUp.objects.alive().get(rule__code="f21")
    letter = words_of(OutboxMail.objects.get(template="record_corrected"))
    assert "still ahead of us" not in letter, "a look of the office's at its own papers"
    office = signed_in(make_staff("dispatcher"))
    office.post(reverse("follow-up-settle", args=[promise.pk]), {"note": "goes back on Monday"})
    promise.refresh_from_db()
    assert (promise.status, promise.ended_by) == ("done", User.objects.latest("pk"))
