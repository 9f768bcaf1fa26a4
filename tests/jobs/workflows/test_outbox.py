"""The states of a message, step by step, and what is left when the sender dies at each."""

from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.core import mail as django_mail

from jobs.mail.smtp import Answer, Verdict
from jobs.models import Customer, OutboxMail, Visit
from jobs.workflows import outbox
from jobs.workflows.people import close_account
from jobs.workflows.tick import never
from tests.jobs.mail.letters import NOW, a_visit, again, customer_mail, staff_mail

from .sending import Killed, Postbox, a_pass, die_after, die_before, send

pytestmark = pytest.mark.django_db
State = OutboxMail.State


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


def test_a_lease_holds_to_its_last_moment():
    mail = staff_mail()
    outbox.claim(now=NOW)
    assert outbox.recover(now=NOW + outbox.LEASE) == 0
    assert again(mail).state == State.CLAIMED
    assert outbox.recover(now=NOW + outbox.LEASE + timedelta(seconds=1)) == 1


def test_a_refusal_that_comes_after_the_lease_is_not_held_against_the_address():
    """By then the row is in doubt, and the office is told so."""
    mail = customer_mail()
    late = outbox.claim(now=NOW)

    class Slow(Postbox):
        def deliver(self, message):
            outbox.recover(now=NOW + timedelta(seconds=181))
            return super().deliver(message)

    refused = Answer(Verdict.REFUSED, "550", "no such user")
    outbox.send_one(late, postman=Slow(refused), clock=lambda: NOW)
    assert again(mail).state == State.UNKNOWN
    assert again(mail).customer.mail_state != Customer.MailState.REFUSED


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


def test_who_works_here_no_more_is_not_written_to(owner):
    mail, postbox = staff_mail(), Postbox()
    close_account(user=User.objects.get(pk=mail.context["user"]), by=owner, now=NOW)
    assert send(mail, postbox).last_error == "The account is closed."
    assert postbox.taken == []


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


def test_index_serves_the_search_for_due_rows(django_assert_num_queries):
    a_visit()
    customer_mail()
    with django_assert_num_queries(4):  # holds, candidates, conditional UPDATE, the row
        assert outbox.claim(now=NOW)
