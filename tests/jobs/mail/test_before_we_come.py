"""What a household does before a visit fits the house: tanks only where some stand."""

from datetime import timedelta

import pytest

from jobs.models import Job, OutboxMail
from tests.acts import booked, opened
from tests.factories import make_job, make_site, make_staff, make_train
from tests.jobs.mail.letters import NOW, text_of, words_of

pytestmark = pytest.mark.django_db
SOON = NOW + timedelta(days=5)


def letter(job):
    booked(job, make_staff("technician"), at=SOON, now=NOW)
    return OutboxMail.objects.get(template="visit_confirmation")


def test_to_a_house_with_a_system_we_ask_for_the_way_to_the_tanks():
    mail = letter(opened(make_train(stages=("softener",))))
    assert "Please: Clear the way to the tanks." in words_of(mail)
    assert "Where: " in text_of(mail)


def test_to_a_survey_we_ask_for_the_way_to_the_well():
    job = make_job(site=make_site(), kind=Job.Kind.SURVEY)
    said = words_of(letter(job))
    assert "Clear the way to the well and to where its water comes in." in said
    assert "tanks" not in said
