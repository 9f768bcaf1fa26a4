"""Marked names, addresses and texts stay in the database: log lines carry ids only."""

import logging

import pytest

from config.log_format import IdsOnlyFormatter
from jobs.mail import links
from jobs.mail.smtp import Answer, Verdict
from jobs.models import LogEntry, OutboxMail
from jobs.workflows import outbox, tick
from tests import factories
from tests.jobs.mail.letters import NOW, customer_mail, staff_mail

pytestmark = pytest.mark.django_db
MARK = "Zzmarked"


def marked_mail():
    customer = factories.make_customer(name=f"{MARK} Ada", email=f"{MARK}@example.com")
    site = factories.make_site(customer=customer, street=f"1 {MARK} Road", town=f"{MARK} Ford")
    return customer_mail(job=factories.make_job(site=site, now=NOW))


@pytest.fixture
def lines(caplog):
    """What the handlers of the settings would write."""
    caplog.set_level(logging.DEBUG)
    caplog.handler.setFormatter(IdsOnlyFormatter("%(name)s %(message)s"))
    return lambda: "\n".join(caplog.handler.format(record) for record in caplog.records)


@pytest.mark.parametrize("verdict", list(Verdict))
def test_no_answer_of_a_server_puts_a_person_into_the_log(lines, verdict):
    class Postbox:
        def deliver(self, message):
            return Answer(verdict, "550", f"{MARK}@example.com does not live here")

    for mail in (marked_mail(), staff_mail()):
        mail = outbox.claim(now=NOW)
        outbox.send_one(mail, postman=Postbox(), clock=lambda: NOW)
    assert MARK.lower() not in lines().lower()
    assert "@" not in lines()


def test_a_broken_letter_is_told_by_its_number(lines):
    mail = marked_mail()
    OutboxMail.objects.update(template=f"{MARK}-letter")
    tick.scan(clock=lambda: NOW)
    assert f"mail {mail.pk} " in lines()
    assert MARK not in lines()


def test_a_customers_answer_is_logged_by_ids_and_its_link_is_not(lines, client, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    mail = marked_mail()
    token = links.answer_token(links.AnswerClaim(mail.visit_id, 0, mail.customer_id))
    client.post(f"/v/{token}/", {"answer": "move", "note": f"{MARK} after four"})
    client.post(f"/v/{token}/", {"answer": "nothing"})  # refused, and said so by Django
    entry = LogEntry.objects.get(verb="customer_move")
    assert (entry.subject_id, entry.by) == (mail.visit_id, None)
    assert MARK not in f"{entry.reason}{entry.data}"
    assert "/v/" in lines()
    assert token not in lines()
    assert MARK not in lines()
