"""Days in letters: as the household says them, with the year where it is another."""

from datetime import timedelta

import pytest

from tests.acts import booked, opened
from tests.factories import make_staff, make_train
from tests.jobs.mail.letters import NOW, customer_mail, words_of
from tests.jobs.mail.letters import opened as message_of

pytestmark = pytest.mark.django_db


def test_a_day_is_said_with_month_and_number():
    mail = customer_mail()
    assert message_of(mail)["Subject"].startswith("Visit on Saturday, June 20, between 10:00 am")


def test_a_day_of_another_year_says_which():
    at = NOW + timedelta(days=300)
    visit = booked(opened(make_train()), make_staff("technician"), at=at, now=NOW)
    assert "on Tuesday, April 6, 2027, between" in words_of(visit.mails.get())
