"""Links of accounts: what they say, how long they live, and how many somebody may ask for."""

import re
from datetime import datetime, timedelta

import pytest
from django.contrib.auth.tokens import PasswordResetTokenGenerator
from django.test import Client

from jobs.mail.about import account_invitation, password_reset
from jobs.mail.smtp import Answer, Verdict
from jobs.models import OutboxMail
from jobs.workflows.people import send_link
from tests.acts import HOUR
from tests.factories import (
    make_staff,
)
from tests.jobs.mail.letters import NOW, words_of
from tests.jobs.workflows.sending import Postbox, a_pass

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


class ReadingPostbox(Postbox):
    """Keeps the link of each letter that reached it."""

    def deliver(self, message):
        text = message.message().parsed.get_body(("plain",)).get_content()
        self.links = [*getattr(self, "links", []), re.search(r"/password/new/\S+", text).group()]
        return super().deliver(message)


@pytest.fixture
def wall(monkeypatch):
    """The clock that links are signed and judged by."""

    def set_to(moment):
        naive = datetime.fromtimestamp(moment.timestamp())  # noqa: DTZ006 - as Django counts
        monkeypatch.setattr(PasswordResetTokenGenerator, "_now", lambda self: naive)

    return set_to


@pytest.mark.parametrize(
    ("answer", "state"),
    [
        (Answer(Verdict.REFUSED, "550", "no such user"), State.DEAD),
        (Answer(Verdict.LATER, "451", "later"), State.QUEUED),
        (Answer(Verdict.CHANNEL, "535", "who are you"), State.QUEUED),
        (Answer(Verdict.UNCERTAIN), State.QUEUED),
        (Answer(Verdict.ACCEPTED, "250"), State.SENT),
    ],
)
def test_no_link_that_opens_an_account_is_kept_whatever_the_server_answers(
    monkeypatch, owner, answer, state
):
    """The owner sends a link; what is left in the database opens nothing."""
    send_link(user=make_staff("technician"), by=owner, now=NOW)
    box = ReadingPostbox(answer)
    a_pass(monkeypatch, box)
    row = OutboxMail.objects.values().get()
    assert row["state"] == state
    assert row["rendered"] is None
    assert box.links[0].split("/")[-2] not in repr(row)


def test_an_invitation_that_is_taken_after_two_days_of_451_still_opens_the_account(
    monkeypatch, owner, wall
):
    """Its link is made when it leaves, and each try is the same message to a mailbox."""
    person = make_staff("technician")
    person.set_unusable_password()
    person.save()
    send_link(user=person, by=owner, now=NOW)
    later, at, box = Answer(Verdict.LATER, "451", "greylisted"), NOW, ReadingPostbox()
    while at < NOW + 2 * DAY:
        wall(at)
        box.answers = [later]
        a_pass(monkeypatch, box, at=at)
        at = OutboxMail.objects.get().not_before
    wall(at)
    box.answers = []
    a_pass(monkeypatch, box, at=at)
    assert OutboxMail.objects.get().state == State.SENT
    wall(at + timedelta(minutes=59))
    assert "new_password1" in Client().get(box.links[-1], follow=True).content.decode()
    assert "new_password1" not in Client().get(box.links[0], follow=True).content.decode()
    assert len(box.links) > 40
