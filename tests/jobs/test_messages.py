"""The page of messages: what needs somebody on top, sent again or answered for."""

from datetime import timedelta

import pytest

from jobs.errors import WrongState
from jobs.mail.letters import keep_rendered
from jobs.mail.smtp import Answer, Verdict
from jobs.models import ChannelStop, LogEntry, OutboxMail
from jobs.workflows import messages, outbox
from jobs.workflows.tick import never
from tests.jobs.mail.letters import NOW, again, customer_mail, staff_mail
from tests.jobs.workflows.sending import Postbox, a_pass, send

pytestmark = pytest.mark.django_db
State = OutboxMail.State


@pytest.fixture(autouse=True)
def _clock(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def in_state(state, **fields):
    mail = customer_mail()
    keep_rendered(mail)
    mail.state = state
    for name, value in fields.items():
        setattr(mail, name, value)
    mail.save()
    return mail


def test_dead_and_unknown_stand_on_top(dispatcher_client):
    in_state(State.QUEUED)
    dead, unknown = in_state(State.DEAD), in_state(State.UNKNOWN)
    page = dispatcher_client.get("/messages/")
    assert set(page.context["needing"]) == {dead, unknown}
    assert page.content.decode().index("Not delivered") < page.content.decode().index("All mess")


@pytest.mark.parametrize("rows", [3, 60])
def test_queries_do_not_grow_with_rows(dispatcher_client, rows, django_assert_max_num_queries):
    for _ in range(rows):
        in_state(State.DEAD)
    with django_assert_max_num_queries(12):
        dispatcher_client.get("/messages/")


def test_states_can_be_chosen(dispatcher_client):
    in_state(State.QUEUED)
    dead = in_state(State.DEAD)
    assert list(dispatcher_client.get("/messages/?state=dead").context["page_obj"]) == [dead]
    assert len(dispatcher_client.get("/messages/?state=x").context["page_obj"]) == 2


def test_a_stopped_channel_is_said(dispatcher_client):
    ChannelStop.objects.create(pk=1, stopped_at=NOW, try_again_at=NOW, code="535")
    assert "code 535" in dispatcher_client.get("/messages/").content.decode()


@pytest.mark.parametrize("state", [State.DEAD, State.UNKNOWN])
def test_send_again_makes_one_new_row_with_an_identity_of_its_own(dispatcher_client, state):
    mail = in_state(state)
    for _ in range(2):
        assert dispatcher_client.post(f"/messages/{mail.pk}/send-again/").status_code == 302
    assert OutboxMail.objects.count() == 2
    new = again(mail).sent_again_as
    assert (new.state, new.recipient) == (State.QUEUED, mail.recipient)
    assert new.message_id != mail.message_id
    assert not OutboxMail.objects.needs_someone().exists()
    outbox.send_due(clock=lambda: NOW, asked_to_end=never)
    assert again(new).state == State.SENT
    assert again(mail).state == state


def test_send_again_trusts_a_refused_address_once_more(dispatcher):
    mail = in_state(State.DEAD)
    mail.customer.mail_state = "refused"
    mail.customer.save()
    new = messages.send_again(mail=mail, by=dispatcher, now=NOW)
    outbox.send_due(clock=lambda: NOW, asked_to_end=never)
    assert again(new).state == State.SENT


def test_what_died_while_it_waited_leaves_at_once_when_it_is_sent_again(monkeypatch, dispatcher):
    """The server said "not now"; the next try would have come too late."""
    mail = customer_mail()
    OutboxMail.objects.update(useful_until=NOW + timedelta(seconds=50))
    send(mail, Postbox(Answer(Verdict.LATER, "451", "busy")))
    assert again(mail).state == State.DEAD
    at = NOW + timedelta(seconds=10)
    new = messages.send_again(mail=mail, by=dispatcher, now=at)
    assert a_pass(monkeypatch, Postbox(), at=at) == 1
    assert again(new).state == State.SENT


@pytest.mark.parametrize("state", [State.QUEUED, State.SKIPPED])
def test_only_dead_and_unknown_are_sent_again(dispatcher, state):
    mail = in_state(state)
    with pytest.raises(WrongState):
        messages.send_again(mail=mail, by=dispatcher, now=NOW)


@pytest.mark.parametrize("hours", [0, 1])
def test_what_is_of_no_use_is_not_sent_again(dispatcher, dispatcher_client, hours):
    mail = in_state(State.DEAD, useful_until=NOW - timedelta(hours=hours))
    with pytest.raises(WrongState, match="telephone"):
        messages.send_again(mail=mail, by=dispatcher, now=NOW)
    page = dispatcher_client.post(f"/messages/{mail.pk}/send-again/", follow=True)
    assert "telephone instead" in page.content.decode()


def test_it_arrived(dispatcher_client, dispatcher):
    mail = in_state(State.UNKNOWN)
    for _ in range(2):
        assert dispatcher_client.post(f"/messages/{mail.pk}/arrived/").status_code == 302
    kept = again(mail)
    assert (kept.state, kept.sent_at, kept.seen_at) == (State.SENT, NOW, NOW)
    assert LogEntry.objects.get(verb="mail_answered_for").by == dispatcher


def test_a_dead_one_told_another_way_leaves_the_list_and_stays_dead(dispatcher):
    mail = in_state(State.DEAD)
    for minutes in (0, 5):
        messages.arrived(mail=mail, by=dispatcher, now=NOW + timedelta(minutes=minutes))
    assert (again(mail).state, again(mail).seen_at) == (State.DEAD, NOW)
    assert LogEntry.objects.filter(verb="mail_answered_for").count() == 1
    assert not OutboxMail.objects.needs_someone().exists()


def test_waiting_mail_cannot_be_called_arrived(dispatcher):
    with pytest.raises(WrongState):
        messages.arrived(mail=in_state(State.QUEUED), by=dispatcher, now=NOW)


def test_the_text_is_shown_as_it_left(dispatcher_client):
    mail = in_state(State.DEAD)
    page = dispatcher_client.get(f"/messages/{mail.pk}/").content.decode()
    assert "A visit is booked" in page
    assert "Send again" in page


def test_nobody_reads_a_link_that_opens_an_account(owner_client):
    mail = staff_mail()
    keep_rendered(mail)
    mail.save()
    page = owner_client.get(f"/messages/{mail.pk}/").content.decode()
    assert "password/new" not in page
    assert "not shown" in page


@pytest.mark.parametrize("path", ["", "1/", "1/send-again/", "1/arrived/"])
def test_technicians_do_not_read_the_offices_mail(technician_client, path):
    method = technician_client.post if path.count("/") == 2 else technician_client.get
    assert method(f"/messages/{path}").status_code == 403


@pytest.mark.parametrize("path", ["send-again", "arrived"])
def test_looking_at_an_action_does_nothing(dispatcher_client, path):
    mail = in_state(State.DEAD)
    assert dispatcher_client.get(f"/messages/{mail.pk}/{path}/").status_code == 405
    assert again(mail).seen_at is None
