"""The states of a message, step by step, and what is left when the sender dies at each."""

import smtplib
from datetime import timedelta

import pytest
from django.core import mail as django_mail

from jobs.mail.smtp import Answer, NoAnswerAfterHandover, Verdict, classify
from jobs.models import ChannelStop, Customer, LogEntry, OutboxMail, Visit
from jobs.workflows import outbox
from jobs.workflows.tick import never
from tests.jobs.mail.letters import NOW, a_visit, again, customer_mail, staff_mail

pytestmark = pytest.mark.django_db
State = OutboxMail.State
ACCEPTED = Answer(Verdict.ACCEPTED, "250")


class Killed(BaseException):
    """Ends the sender where it stands, as SIGKILL does: nothing catches it."""


class Postbox:
    """A mail server in this process: remembers what it took, then answers as told."""

    def __init__(self, *answers, die=""):
        self.answers, self.die, self.taken = list(answers), die, []

    def deliver(self, message):
        if self.die == "before the message left":
            raise Killed
        answer = self.answers.pop(0) if self.answers else ACCEPTED
        if answer.verdict in (Verdict.ACCEPTED, Verdict.UNCERTAIN):
            self.taken.append((message.recipients(), message.message()["Message-ID"]))
        if self.die == "after the server took it":
            raise Killed
        return answer

    def close(self):
        pass


def send(mail, postbox, *, at=NOW):
    claimed = outbox.claim(now=at)
    assert claimed.pk == mail.pk
    outbox.send_one(claimed, postman=postbox, clock=lambda: at)
    return again(mail)


def a_pass(monkeypatch, postbox, *, at=NOW):
    monkeypatch.setattr(outbox, "Postman", lambda: postbox)
    return outbox.send_due(clock=lambda: at, asked_to_end=never)


# --- the straight way ------------------------------------------------------------------------


def test_a_due_message_is_sent_once_through_django(settings):
    mail = customer_mail()
    assert outbox.send_due(clock=lambda: NOW, asked_to_end=never) == 1
    assert outbox.send_due(clock=lambda: NOW, asked_to_end=never) == 0
    (sent,) = django_mail.outbox
    assert sent.to == [mail.recipient]
    kept = again(mail)
    assert (kept.state, kept.sent_at, kept.token, kept.lease_until) == (State.SENT, NOW, "", None)
    assert (kept.starts, kept.deliveries, kept.last_code) == (0, 1, "250")


def test_a_message_waits_for_its_time():
    customer_mail()
    OutboxMail.objects.update(not_before=NOW + timedelta(minutes=1))
    assert outbox.claim(now=NOW) is None
    assert outbox.claim(now=NOW + timedelta(minutes=1)) is not None


def test_a_row_is_claimed_by_one_of_two():
    mail = customer_mail()
    first, second = outbox.claim(now=NOW), outbox.claim(now=NOW)
    assert (first.pk, second) == (mail.pk, None)
    assert first.lease_until == NOW + timedelta(seconds=180)


def test_a_sender_between_reading_and_claiming_gets_the_next_row(monkeypatch):
    """Both senders read the same candidates; the conditional UPDATE decides."""
    rows = [customer_mail(), customer_mail()]
    seen = OutboxMail.objects.due(NOW)
    read = list(seen.values_list("pk", flat=True))
    first = outbox.claim(now=NOW)

    class Stale:
        def values_list(self, *args, **kwargs):
            return read

    monkeypatch.setattr(type(OutboxMail.objects.all()), "due", lambda self, now: Stale())
    monkeypatch.setattr(type(OutboxMail.objects), "due", lambda self, now: Stale(), raising=False)
    second = outbox.claim(now=NOW)
    assert {first.pk, second.pk} == {row.pk for row in rows}


def test_a_pass_ends_after_fifty_seconds_and_the_next_goes_on(monkeypatch):
    for _ in range(5):
        customer_mail()
    moments = iter(NOW + timedelta(seconds=9 * turn) for turn in range(100))
    monkeypatch.setattr(outbox, "Postman", Postbox)
    handled = outbox.send_due(clock=lambda: next(moments), asked_to_end=never)
    assert 0 < handled < 5
    assert OutboxMail.objects.filter(state=State.SENT).count() == handled
    assert a_pass(monkeypatch, Postbox()) == 5 - handled


# --- death at each step, for both classes -----------------------------------------------------


def die_after(monkeypatch, name):
    real = getattr(outbox, name)

    def step(*args, **kwargs):
        real(*args, **kwargs)
        raise Killed

    monkeypatch.setattr(outbox, name, step)


def die_before(monkeypatch, name):
    def step(*args, **kwargs):
        raise Killed

    monkeypatch.setattr(outbox, name, step)


def kill_after_claim(monkeypatch):
    die_before(monkeypatch, "keep_rendered")
    return Postbox()


def kill_after_render(monkeypatch):
    die_after(monkeypatch, "keep_rendered")
    return Postbox()


def kill_after_look(monkeypatch):
    die_before(monkeypatch, "mark_sending")
    return Postbox()


def kill_after_sending_is_kept(monkeypatch):
    die_after(monkeypatch, "mark_sending")
    return Postbox()


def kill_before_message_left(monkeypatch):
    return Postbox(die="before the message left")


def kill_after_server_took_it(monkeypatch):
    return Postbox(die="after the server took it")


def kill_before_sent_is_kept(monkeypatch):
    die_before(monkeypatch, "settle")
    return Postbox()


def kill_after_sent_is_kept(monkeypatch):
    die_after(monkeypatch, "settle")
    return Postbox()


#: step: (state found after the death, taken by the server, state after recovery by class)
DEATHS = [
    (kill_after_claim, State.CLAIMED, 0, State.QUEUED, State.QUEUED),
    (kill_after_render, State.CLAIMED, 0, State.QUEUED, State.QUEUED),
    (kill_after_look, State.CLAIMED, 0, State.QUEUED, State.QUEUED),
    (kill_after_sending_is_kept, State.SENDING, 0, State.QUEUED, State.UNKNOWN),
    (kill_before_message_left, State.SENDING, 0, State.QUEUED, State.UNKNOWN),
    (kill_after_server_took_it, State.SENDING, 1, State.QUEUED, State.UNKNOWN),
    (kill_before_sent_is_kept, State.SENDING, 1, State.QUEUED, State.UNKNOWN),
    (kill_after_sent_is_kept, State.SENT, 1, State.SENT, State.SENT),
]


@pytest.mark.parametrize("of_class", ["staff", "customer"])
@pytest.mark.parametrize("death", DEATHS, ids=lambda death: death[0].__name__.removeprefix("kill_"))
def test_death_of_the_sender(monkeypatch, death, of_class):
    kill, left, taken, staff_then, customer_then = death
    mail = staff_mail() if of_class == "staff" else customer_mail()
    with monkeypatch.context() as patched:
        postbox = kill(patched)
        with pytest.raises(Killed):
            send(mail, postbox)
    assert again(mail).state == left
    assert len(postbox.taken) == taken
    # nobody touches it while the lease runs
    outbox.recover(now=NOW + timedelta(seconds=179))
    assert again(mail).state == left
    later = NOW + timedelta(seconds=181)
    outbox.recover(now=later)
    then = staff_then if of_class == "staff" else customer_then
    assert again(mail).state == then
    second = Postbox()
    if then == State.QUEUED:
        assert send(mail, second, at=later).state == State.SENT
    else:
        assert outbox.claim(now=later) is None
    everything = [*postbox.taken, *second.taken]
    if of_class == "customer":
        assert len(everything) <= 1, "a customer never gets a message twice by itself"
        assert everything or then == State.UNKNOWN, "lost without a trace"
    else:
        assert everything, "staff mail arrives at least once"
    assert {identity for _, identity in everything} <= {mail.message_id}


def test_a_sender_that_lost_its_lease_writes_nothing(monkeypatch):
    """The server needs longer than the lease; another process has looked after the row."""
    mail = customer_mail()
    late = outbox.claim(now=NOW)

    class Slow(Postbox):
        def deliver(self, message):
            outbox.recover(now=NOW + timedelta(seconds=181))
            return super().deliver(message)

    outbox.send_one(late, postman=Slow(), clock=lambda: NOW)
    assert again(mail).state == State.UNKNOWN


def test_a_sender_that_lost_its_claim_does_not_send():
    mail = staff_mail()
    late = outbox.claim(now=NOW)
    outbox.recover(now=NOW + timedelta(seconds=181))
    other = outbox.claim(now=NOW + timedelta(seconds=182))
    postbox = Postbox()
    outbox.send_one(late, postman=postbox, clock=lambda: NOW)
    assert postbox.taken == []
    assert again(mail).token == other.token


# --- the last look ---------------------------------------------------------------------------


def change_visit(**fields):
    return lambda mail: Visit.objects.filter(pk=mail.visit_id).update(**fields)


def sell_house(mail):
    mail.customer.tenures.update(until_on=NOW.date())
    Visit.objects.get().job.__class__.objects.update(customer=None)


def change_customer(**fields):
    return lambda mail: Customer.objects.filter(pk=mail.customer_id).update(**fields)


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (change_visit(status="cancelled", sequence=1), "cancelled"),
        (change_visit(sequence=1), "newer message"),
        (change_visit(status="on_site"), "on site"),
        (sell_house, "Somebody else"),
        (change_customer(mail_wanted=False), "wants no mail"),
        (change_customer(email=""), "no address"),
        (change_customer(mail_state="refused"), "refused"),
    ],
    ids=["cancelled", "moved", "under way", "sold", "no mail", "no address", "refused"],
)
def test_what_changed_between_claim_and_sending_wins(monkeypatch, change, reason):
    mail = customer_mail()
    claimed = outbox.claim(now=NOW)
    real = outbox.keep_rendered

    def render_then_change(row):
        real(row)
        change(row)

    monkeypatch.setattr(outbox, "keep_rendered", render_then_change)
    postbox = Postbox()
    outbox.send_one(claimed, postman=postbox, clock=lambda: NOW)
    assert postbox.taken == []
    assert again(mail).state == State.SKIPPED
    assert reason in again(mail).last_error


def test_the_night_is_waited_for():
    mail = customer_mail()
    night = NOW + timedelta(hours=12)  # 22:00 at the house
    assert send(mail, Postbox(), at=night).state == State.QUEUED
    assert again(mail).not_before == NOW + timedelta(hours=22)  # 8:00
    assert again(mail).starts == 0


def test_what_is_of_no_use_any_more_is_skipped():
    mail = customer_mail(days=1)
    late = mail.useful_until + timedelta(minutes=1)
    assert send(mail, Postbox(), at=late).state == State.SKIPPED


def test_after_a_night_that_outlasts_its_use_nothing_is_sent():
    mail = customer_mail(days=0.7)  # 02:48 in the night
    assert send(mail, Postbox(), at=NOW + timedelta(hours=10)).state == State.SKIPPED


# --- answers ---------------------------------------------------------------------------------

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
        (smtplib.SMTPRecipientsRefused({NOBODY: (550, b"none")}), Verdict.REFUSED, "550"),
        (smtplib.SMTPRecipientsRefused({NOBODY: (553, b"name")}), Verdict.REFUSED, "553"),
        (smtplib.SMTPRecipientsRefused({NOBODY: (530, b"auth")}), Verdict.CHANNEL, "530"),
        (smtplib.SMTPDataError(421, b"closing"), Verdict.LATER, "421"),
        (smtplib.SMTPDataError(452, b"full"), Verdict.LATER, "452"),
        (smtplib.SMTPDataError(552, b"large"), Verdict.REFUSED, "552"),
        (smtplib.SMTPDataError(554, b"no"), Verdict.REFUSED, "554"),
        (smtplib.SMTPSenderRefused(451, b"later", NOBODY), Verdict.LATER, "451"),
        (smtplib.SMTPSenderRefused(550, b"not you", NOBODY), Verdict.CHANNEL, "550"),
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


def test_index_serves_the_search_for_due_rows(django_assert_num_queries):
    a_visit()
    customer_mail()
    with django_assert_num_queries(3):  # candidates, conditional UPDATE, the row
        assert outbox.claim(now=NOW)
