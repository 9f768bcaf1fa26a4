"""Links of accounts: what they say, how long they live, and how many somebody may ask for."""

from datetime import timedelta

import pytest

from jobs.mail.about import account_invitation, password_reset
from jobs.models import OutboxMail
from jobs.workflows.people import send_link
from tests.acts import HOUR
from tests.factories import (
    make_staff,
)
from tests.jobs.mail.letters import NOW, words_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
State = OutboxMail.State


def test_links_of_accounts_end_when_they_say(owner):
    person = make_staff("technician")
    send_link(user=person, by=owner, now=NOW)
    mail = OutboxMail.objects.get(template="password_reset")
    assert mail.useful_until == NOW + HOUR
    assert "60 minutes" in words_of(mail)
    invited = account_invitation.write(user=make_staff("technician"), now=NOW)
    assert invited.useful_until == NOW + 3 * DAY


def test_somebody_who_asks_every_ten_minutes_gets_five_links_and_again_after_a_day():
    person = make_staff("technician")
    asked = [password_reset.write(user=person, now=NOW + turn * HOUR / 6) for turn in range(6)]
    assert [mail is None for mail in asked] == [False] * 5 + [True]
    assert password_reset.write(user=person, now=NOW + 25 * HOUR)
