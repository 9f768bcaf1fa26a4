"""What the answers of a mail server mean for a message, its contact and the whole channel."""

import smtplib
from datetime import timedelta

import pytest

from jobs.mail.smtp import Answer, NoAnswerAfterHandover, Verdict, classify
from jobs.models import ChannelStop, Customer, LogEntry, OutboxMail
from jobs.workflows import outbox
from tests.jobs.mail.letters import NOW, again, customer_mail, staff_mail

from .sending import Killed, Postbox, a_pass, die_before, send

pytestmark = pytest.mark.django_db
State = OutboxMail.State

LATER = Answer(Verdict.LATER, "451", "greylisted")


def test_back_off_grows_to_hourly_with_a_little_spread():
    """RFC 5321 (IETF, 2008) 4.5.4.1 asks for growing pauses; the figures are common practice."""
    for deliveries, minutes in [(1, 1), (2, 5), (3, 15), (4, 30), (5, 60), (6, 60), (40, 60)]:
        waits = {outbox.back_off(deliveries) for _ in range(50)}
        assert len(waits) > 1
        assert all(
            timedelta(minutes=minutes) <= w <= timedelta(minutes=1.2 * minutes) for w in waits
        )


def test_not_now_is_tried_again_with_the_same_bytes():
    mail = customer_mail()
    postbox = Postbox(LATER, LATER)
    first = send(mail, postbox)
    assert (first.state, first.deliveries, first.starts) == (State.QUEUED, 1, 0)
    assert (first.last_code, first.last_error) == ("451", "greylisted")
    assert NOW + timedelta(minutes=1) <= first.not_before <= NOW + timedelta(minutes=1.2)
    second = send(mail, postbox, at=first.not_before)
    assert bytes(second.rendered) == bytes(first.rendered)
    assert send(mail, postbox, at=second.not_before).state == State.SENT


def test_not_now_ends_when_the_message_is_of_no_use():
    mail = customer_mail(days=1)
    OutboxMail.objects.update(useful_until=NOW + timedelta(seconds=50))
    assert send(mail, Postbox(LATER)).state == State.DEAD


def test_a_next_try_at_the_very_end_of_its_use_is_none(monkeypatch):
    monkeypatch.setattr(outbox.random, "uniform", lambda least, most: least)
    mail = customer_mail()
    OutboxMail.objects.update(useful_until=NOW + timedelta(minutes=1))
    assert send(mail, Postbox(LATER)).state == State.DEAD


def test_a_server_that_does_not_answer_is_asked_again_after_a_minute(monkeypatch):
    mail = customer_mail()
    silent = Postbox(Answer(Verdict.CHANNEL))
    assert a_pass(monkeypatch, silent) == 1
    assert a_pass(monkeypatch, silent, at=NOW + timedelta(seconds=59)) == 0
    assert a_pass(monkeypatch, silent, at=NOW + timedelta(seconds=60)) == 1
    assert again(mail).state == State.SENT


def test_refused_is_dead_at_once_and_the_contact_is_marked():
    mail = customer_mail()
    kept = send(mail, Postbox(Answer(Verdict.REFUSED, "550", "no such user")))
    assert (kept.state, kept.last_code, kept.deliveries) == (State.DEAD, "550", 1)
    assert Customer.objects.get(pk=mail.customer_id).mail_state == "refused"
    assert LogEntry.objects.get(verb="mail_refused").subject_id == mail.customer_id


def test_turned_away_stops_the_channel_and_uses_up_nothing(monkeypatch):
    rows = [customer_mail() for _ in range(4)]
    away = Postbox(*[Answer(Verdict.CHANNEL, "535", "who are you")] * 9)
    assert a_pass(monkeypatch, away) == 1
    assert a_pass(monkeypatch, away, at=NOW + timedelta(minutes=4)) == 0
    assert a_pass(monkeypatch, away, at=NOW + timedelta(minutes=6)) == 1
    assert ChannelStop.objects.get().code == "535"
    assert {(again(row).state, again(row).deliveries, again(row).starts) for row in rows} == {
        (State.QUEUED, 0, 0)
    }
    mended = Postbox()
    assert a_pass(monkeypatch, mended, at=NOW + timedelta(minutes=12)) == 4
    assert not ChannelStop.objects.exists()
    assert len(mended.taken) == 4


def test_no_answer_after_handover_is_a_doubt_for_customers_only():
    doubt = Answer(Verdict.UNCERTAIN)
    assert send(customer_mail(), Postbox(doubt)).state == State.UNKNOWN
    assert send(staff_mail(), Postbox(doubt)).state == State.QUEUED


def test_account_links_are_not_kept_after_sending():
    kept = send(staff_mail(), Postbox())
    assert kept.rendered is None


def test_a_broken_row_dies_after_five_tries_and_the_others_go_out(monkeypatch):
    broken, healthy = customer_mail(), [customer_mail() for _ in range(3)]
    OutboxMail.objects.filter(pk=broken.pk).update(template="no-such-letter")
    at = NOW
    for _ in range(5):
        a_pass(monkeypatch, Postbox(), at=at)
        at = max(again(broken).not_before, at)
    kept = again(broken)
    assert (kept.state, kept.starts) == (State.DEAD, 5)
    assert "no-such-letter" in kept.last_error
    assert {again(row).state for row in healthy} == {State.SENT}


def test_a_row_that_kills_its_sender_is_dead_after_five_starts(monkeypatch):
    poison, healthy = staff_mail(), customer_mail()
    at = NOW
    for _ in range(5):
        OutboxMail.objects.filter(pk=healthy.pk).update(not_before=at + timedelta(hours=1))
        with monkeypatch.context() as patched:
            die_before(patched, "mark_sending")
            with pytest.raises(Killed):
                send(poison, Postbox(), at=at)
        at += timedelta(seconds=181)
        outbox.recover(now=at)
    assert again(poison).state == State.DEAD
    assert again(healthy).starts == 0
    assert a_pass(monkeypatch, Postbox(), at=at + timedelta(hours=1)) == 1


# --- what the answers of a mail server mean (RFC 5321, IETF 2008, 4.2.1 and 4.2.3) ------------

NOBODY = "x@example.com"


@pytest.mark.parametrize(
    ("error", "verdict", "code"),
    [
        (smtplib.SMTPRecipientsRefused({NOBODY: (450, b"busy")}), Verdict.LATER, "450"),
        (smtplib.SMTPRecipientsRefused({NOBODY: (451, b"grey")}), Verdict.LATER, "451"),
        (smtplib.SMTPRecipientsRefused({NOBODY: (499, b"odd")}), Verdict.LATER, "499"),
        (smtplib.SMTPRecipientsRefused({NOBODY: (500, b"what")}), Verdict.REFUSED, "500"),
        (smtplib.SMTPRecipientsRefused({NOBODY: (550, b"none")}), Verdict.REFUSED, "550"),
        (smtplib.SMTPRecipientsRefused({NOBODY: (553, b"name")}), Verdict.REFUSED, "553"),
        (smtplib.SMTPRecipientsRefused({NOBODY: (530, b"auth")}), Verdict.CHANNEL, "530"),
        (smtplib.SMTPDataError(421, b"closing"), Verdict.LATER, "421"),
        (smtplib.SMTPDataError(452, b"full"), Verdict.LATER, "452"),
        (smtplib.SMTPDataError(552, b"large"), Verdict.REFUSED, "552"),
        (smtplib.SMTPDataError(554, b"no"), Verdict.REFUSED, "554"),
        (smtplib.SMTPSenderRefused(451, b"later", NOBODY), Verdict.LATER, "451"),
        (smtplib.SMTPSenderRefused(550, b"not you", NOBODY), Verdict.CHANNEL, "550"),
        (smtplib.SMTPSenderRefused(500, b"what", NOBODY), Verdict.CHANNEL, "500"),
        (smtplib.SMTPDataError(534, b"too weak"), Verdict.CHANNEL, "534"),
        (smtplib.SMTPDataError(538, b"no key"), Verdict.CHANNEL, "538"),
        (smtplib.SMTPSenderRefused(530, b"auth", NOBODY), Verdict.CHANNEL, "530"),
        (smtplib.SMTPAuthenticationError(535, b"bad"), Verdict.CHANNEL, "535"),
        (smtplib.SMTPServerDisconnected("gone"), Verdict.LATER, ""),
        (TimeoutError("slow"), Verdict.LATER, ""),
        (NoAnswerAfterHandover("gone"), Verdict.UNCERTAIN, ""),
        (smtplib.SMTPNotSupportedError("SMTPUTF8"), Verdict.REFUSED, ""),
        (ValueError("no address"), Verdict.REFUSED, ""),
    ],
    ids=str,
)
def test_answers_by_number(error, verdict, code):
    answer = classify(error)
    assert (answer.verdict, answer.code) == (verdict, code)


def test_the_office_reads_what_the_server_said_and_of_a_long_answer_the_beginning():
    said = "mailbox unavailable: " + 30 * "see our policy; "
    mail = customer_mail()
    send(mail, Postbox(classify(smtplib.SMTPDataError(550, said.encode()))))
    assert again(mail).last_error == said[:300]
