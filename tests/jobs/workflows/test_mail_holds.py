"""A server that takes messages and breaks off: few are in doubt, one act settles all of them."""

from datetime import timedelta

import pytest

from jobs.mail.smtp import Answer, Verdict
from jobs.models import LogEntry, MailHold, OutboxMail
from jobs.workflows import mail_holds
from jobs.workflows.tick import scan
from tests.jobs.mail.letters import NOW, again, customer_mail, staff_mail

from .sending import Postbox, a_pass

pytestmark = pytest.mark.django_db
State = OutboxMail.State
DOUBT = Answer(Verdict.UNCERTAIN, text="Connection unexpectedly closed")
MINUTE = timedelta(minutes=1)


class BreaksOff(Postbox):
    """Takes every message and never says so."""

    def deliver(self, message):
        self.answers = [DOUBT]
        return super().deliver(message)


@pytest.fixture(autouse=True)
def _clock(clock):
    """Pages look at NOW."""


def states():
    rows = OutboxMail.objects.order_by().values_list("state", flat=True)
    return {state: list(rows).count(state) for state in set(rows)}


def outage(monkeypatch, rows=60):
    """Sixty letters are due when the server begins to break off; three passes, a minute apart."""
    mails = [customer_mail(days=30) for _ in range(rows)]
    box = BreaksOff()
    for minute in range(3):
        a_pass(monkeypatch, box, at=NOW + minute * MINUTE)
    return mails, box


def test_three_doubts_in_a_row_keep_the_other_letters_back(monkeypatch):
    _, box = outage(monkeypatch)
    assert states() == {State.UNKNOWN: 3, State.QUEUED: 57}
    assert len(box.taken) == 3


def test_health_and_the_worklist_say_it_and_lead_there(
    monkeypatch, client, dispatcher_client, clock
):
    outage(monkeypatch)
    scan(clock=lambda: NOW + 3 * MINUTE)
    clock(NOW + 3 * MINUTE)
    answer = client.get("/healthz")
    assert answer.status_code == 503
    assert answer.json()["mail"] == "held: doubt"
    assert answer.json()["unknown"] == 3
    page = dispatcher_client.get("/worklist/").content.decode()
    assert "No mail leaves to customers" in page
    page = dispatcher_client.get("/messages/").content.decode()
    assert "broke off after 3 messages in a row" in page
    assert "57 messages kept back" in page


def test_an_answer_in_between_begins_the_row_anew(monkeypatch):
    for _ in range(5):
        customer_mail(days=30)
    accepted = Answer(Verdict.ACCEPTED, "250")
    a_pass(monkeypatch, Postbox(DOUBT, DOUBT, accepted, DOUBT, DOUBT))
    assert states() == {State.UNKNOWN: 4, State.SENT: 1}
    assert not MailHold.objects.holding().exists()


def test_a_letter_to_staff_tries_the_way_and_opens_it(monkeypatch):
    outage(monkeypatch, rows=5)
    tried = staff_mail()
    box = BreaksOff()
    assert a_pass(monkeypatch, box, at=NOW + 10 * MINUTE) == 0  # not before its pause is over
    assert a_pass(monkeypatch, box, at=NOW + 16 * MINUTE) == 1
    assert again(tried).state == State.QUEUED
    assert a_pass(monkeypatch, box, at=NOW + 20 * MINUTE) == 0
    mended = Postbox()
    assert a_pass(monkeypatch, mended, at=NOW + 35 * MINUTE) == 3
    assert again(tried).state == State.SENT
    assert states() == {State.UNKNOWN: 3, State.SENT: 3}


def test_a_person_lets_mail_go_on(monkeypatch, dispatcher_client, dispatcher):
    outage(monkeypatch, rows=5)
    hold = MailHold.objects.get()
    assert dispatcher_client.post(f"/holds/{hold.pk}/release/").url == "/messages/"
    assert LogEntry.objects.get(verb="mail_released").by == dispatcher
    a_pass(monkeypatch, Postbox(), at=NOW + 5 * MINUTE)
    assert states() == {State.UNKNOWN: 3, State.SENT: 2}
    page = dispatcher_client.post(f"/holds/{hold.pk}/release/", follow=True).content.decode()
    assert "Mail goes out again already." in page


def test_one_act_sends_all_doubtful_ones_again_and_no_other(monkeypatch, dispatcher_client):
    mails, _ = outage(monkeypatch, rows=5)
    late = again(mails[0])
    OutboxMail.objects.filter(pk=late.pk).update(useful_until=NOW)
    killed = customer_mail(days=30)
    OutboxMail.objects.filter(pk=killed.pk).update(state=State.UNKNOWN)  # not of this outage
    hold = MailHold.objects.get()
    page = dispatcher_client.post(f"/holds/{hold.pk}/settle/", {"act": "again"}, follow=True)
    said = page.content.decode()
    assert "2 messages wait to be sent again." in said
    assert "The time of 1 message has passed: telephone." in said
    assert set(OutboxMail.objects.needs_someone()) == {again(late), again(killed)}
    dispatcher_client.post(f"/holds/{hold.pk}/settle/", {"act": "again"})  # twice is once
    assert OutboxMail.objects.filter(key__endswith=":again").count() == 2


def test_one_act_says_that_all_arrived_under_a_name(monkeypatch, dispatcher_client, dispatcher):
    outage(monkeypatch, rows=5)
    hold = MailHold.objects.get()
    dispatcher_client.post(f"/holds/{hold.pk}/settle/", {"act": "arrived"})
    assert states() == {State.SENT: 3, State.QUEUED: 2}
    assert {entry.by for entry in LogEntry.objects.filter(verb="mail_answered_for")} == {dispatcher}
    assert not OutboxMail.objects.needs_someone().exists()


@pytest.mark.parametrize("act", ["", "everything", "before"])
def test_what_is_no_act_of_an_outage_changes_nothing(monkeypatch, dispatcher_client, act):
    outage(monkeypatch, rows=5)
    dispatcher_client.post(f"/holds/{MailHold.objects.get().pk}/settle/", {"act": act})
    assert states() == {State.UNKNOWN: 3, State.QUEUED: 2}
    assert MailHold.objects.holding().exists()


def test_the_page_counts_all_that_need_somebody_not_the_shown_ones(dispatcher_client):
    for _ in range(53):
        customer_mail(days=30)
    OutboxMail.objects.update(state=State.UNKNOWN)
    page = dispatcher_client.get("/messages/").content.decode()
    assert "53 messages need somebody" in " ".join(page.split())
    assert "The first 50 of them:" in page


def test_a_clock_that_ran_ahead_does_not_put_off_the_next_try(monkeypatch):
    outage(monkeypatch, rows=3)
    staff_mail()
    MailHold.objects.update(try_again_at=NOW + timedelta(days=1))
    assert a_pass(monkeypatch, Postbox(), at=NOW + 5 * MINUTE) == 1


def test_an_outage_of_one_kind_stands_once(monkeypatch):
    outage(monkeypatch, rows=5)
    assert MailHold.objects.count() == 1
    assert mail_holds.note_doubt(now=NOW).pk == MailHold.objects.get().pk
