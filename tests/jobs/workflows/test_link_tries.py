"""Links that were not sent are never taken: forged, of another purpose or thing, ended."""

import random
from datetime import timedelta

import pytest
from django.core import signing
from django.urls import reverse

from jobs.mail import links
from jobs.models import LogEntry, OutboxMail, Visit, VisitRequest
from tests.jobs.mail.letters import NOW, customer_mail

pytestmark = pytest.mark.django_db
#: tries of each kind, and looks at a good link
TRIES, LOOKS = 100, 50


@pytest.fixture
def mail(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    return customer_mail()


def claim_of(mail, **other):
    values = {
        "visit_id": mail.visit_id,
        "sequence": mail.visit.sequence,
        "customer_id": mail.customer_id,
        **other,
    }
    return links.AnswerClaim(**values)


def everything():
    rows = Visit.objects.values_list("pk", "customer_confirmed_at", "status")
    return (
        list(rows),
        VisitRequest.objects.count(),
        OutboxMail.objects.count(),
        LogEntry.objects.count(),
    )


def changed_bytes(mail, dice):
    token = links.answer_token(claim_of(mail))
    at = dice.randrange(len(token))
    other = dice.choice([c for c in "abcXYZ019-_:" if c != token[at]])
    return token[:at] + other + token[at + 1 :]


def other_purpose(mail, dice):
    values = [mail.visit_id, mail.visit.sequence, mail.customer_id]
    salt = dice.choice([links.STOP_PURPOSE, "password", "", "django.core.signing.Signer"])
    return signing.Signer(salt=salt).sign_object(values)


def other_thing(mail, dice):
    """Well signed, for a visit, a time or a customer that this link is not about."""
    number = dice.randrange(1, 10**6)
    wrong = dice.choice(
        [
            {"visit_id": mail.visit_id + number},
            {"sequence": mail.visit.sequence + number},
            {"customer_id": mail.customer_id + number},
        ]
    )
    return links.answer_token(claim_of(mail, **wrong))


def another_key(mail, dice):
    values = [mail.visit_id, mail.visit.sequence, mail.customer_id]
    key = f"guessed-{dice.random()}"
    return signing.Signer(key=key, salt=links.ANSWER_PURPOSE).sign_object(values)


@pytest.mark.parametrize("make", [changed_bytes, other_purpose, other_thing, another_key])
def test_no_try_is_accepted(client, mail, make):
    dice, before = random.Random(7), everything()
    for _ in range(TRIES):
        address = reverse("visit-answer", args=[make(mail, dice)])
        answer = client.post(address, {"answer": dice.choice(["confirm", "move", "cancel"])})
        assert answer.status_code in (403, 404, 410)
    assert everything() == before


def test_an_ended_link_is_not_accepted_however_often(client, mail, monkeypatch):
    later = mail.visit.ends_at + timedelta(days=1)
    monkeypatch.setattr("django.utils.timezone.now", lambda: later)
    before, address = (
        everything(),
        reverse("visit-answer", args=[links.answer_token(claim_of(mail))]),
    )
    for _ in range(TRIES):
        assert client.post(address, {"answer": "confirm"}).status_code in (403, 404, 410)
    assert everything() == before


def test_looking_at_a_good_link_changes_nothing(client, mail):
    before, address = (
        everything(),
        reverse("visit-answer", args=[links.answer_token(claim_of(mail))]),
    )
    for _ in range(LOOKS):
        assert client.get(address).status_code == 200
    assert everything() == before
