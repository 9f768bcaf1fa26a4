"""A notice of the house in a letter about a visit there."""

from datetime import timedelta

import pytest

from jobs.models import DoNotUse, OutboxMail
from jobs.workflows.notices import Danger, open_notice
from tests.acts import HOUR, booked, bottled, opened
from tests.factories import make_site, make_staff, make_train
from tests.jobs.mail.letters import NOW, words_of

pytestmark = pytest.mark.django_db


def test_a_notice_says_the_day_of_the_house_and_a_waiting_sample_is_no_result():
    lead = make_staff("technician", first_name="Tess", last_name="Alder")
    train = make_train(site=make_site(time_zone="America/Los_Angeles"))
    early = NOW - 9 * HOUR  # one in the morning here, ten in the evening there
    for level in (DoNotUse.Level.NO_USE, DoNotUse.Level.SAMPLE_PENDING):
        open_notice(
            danger=Danger(site=train.site, level=level, reason="flooded"), by=lead, now=early
        )
    visit = booked(opened(train), lead, at=NOW + timedelta(days=2), now=NOW)
    text = words_of(OutboxMail.objects.get(visit=visit)).upper()
    assert "OUR NOTICE OF TUESDAY, JUNE 9, 2026 STILL HOLDS" in text
    assert text.count("STILL HOLDS") == 1
    assert "SINCE TUESDAY, JUNE 9, 2026 IT WAITS FOR A BACTERIA SAMPLE" in text
    assert "NO BOTTLE HAS BEEN FILLED SINCE THAT DAY" in text


def test_a_bottle_filled_before_the_notice_is_not_the_one_that_lifts_it():
    lead = make_staff("technician")
    train = make_train()
    bottled(train.site, at=NOW - timedelta(days=3))
    danger = Danger(train.site, "no_drinking", "flooded", "flood")
    open_notice(danger=danger, by=lead, now=NOW)
    visit = booked(opened(train), lead, at=NOW + timedelta(days=2), now=NOW)
    text = words_of(OutboxMail.objects.get(visit=visit))
    assert "No bottle has been filled since that day" in text
    assert "A bottle was filled" not in text
