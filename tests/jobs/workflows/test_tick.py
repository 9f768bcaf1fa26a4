"""One waking: every part for itself, its moment kept; health is read from there."""

from datetime import timedelta

import pytest
from django.core import mail as django_mail

from jobs.models import ChannelStop, OutboxMail, WorkerPass
from jobs.workflows import tick
from jobs.workflows.health import health
from tests.jobs.mail.letters import NOW, a_visit, customer_mail

pytestmark = pytest.mark.django_db


def at(moment):
    return lambda: moment


def test_a_reminder_is_written_and_sent_by_one_waking():
    a_visit(days=8)
    tick.scan(clock=at(NOW + timedelta(days=1)))
    (sent,) = django_mail.outbox
    assert sent.subject.startswith("Reminder: visit on")


def test_two_wakings_at_once_do_no_harm():
    customer_mail()
    tick.scan(clock=at(NOW))
    tick.scan(clock=at(NOW))
    assert len(django_mail.outbox) == 1


def test_when_the_end_is_asked_for_no_further_message_is_taken():
    for _ in range(3):
        customer_mail()
    tick.scan(clock=at(NOW), asked_to_end=lambda: len(django_mail.outbox) == 2)
    assert len(django_mail.outbox) == 2
    assert OutboxMail.objects.get(sent_at=None).state == "queued"


def test_each_part_leaves_its_moment():
    tick.scan(clock=at(NOW))
    assert dict(WorkerPass.objects.values_list("name", "finished_at")) == {
        "reminders": NOW,
        "lists": NOW,
        "outbox": NOW,
    }


def test_lists_are_looked_through_once_an_hour():
    for minutes in (0, 30, 59, 61):
        tick.scan(clock=at(NOW + timedelta(minutes=minutes)))
    assert WorkerPass.objects.get(name="lists").finished_at == NOW + timedelta(minutes=61)


def test_a_fault_in_one_part_does_not_stop_the_mail(monkeypatch, caplog):
    customer_mail()

    def broken(clock, asked_to_end):
        raise ValueError("Ada Marked-Name")

    monkeypatch.setitem(tick.PARTS, "reminders", (broken, None))
    tick.scan(clock=at(NOW))
    assert len(django_mail.outbox) == 1
    assert not WorkerPass.objects.filter(name="reminders").exists()
    assert "ValueError" in caplog.text
    assert "Marked" not in caplog.text


def test_never_a_pass_is_not_good(client):
    assert not health(now=NOW).works
    assert client.get("/healthz").status_code == 503


def test_health_follows_the_last_pass():
    tick.scan(clock=at(NOW))
    assert health(now=NOW + timedelta(seconds=170)).is_good
    assert not health(now=NOW + timedelta(seconds=190)).works


def test_health_follows_the_older_of_the_watched_parts():
    tick.scan(clock=at(NOW))
    later = NOW + timedelta(minutes=10)
    WorkerPass.objects.filter(name="reminders").update(finished_at=later)
    assert not health(now=later).works


def test_health_is_not_good_while_due_mail_waits_for_long():
    customer_mail()
    later = NOW + timedelta(minutes=16)
    ChannelStop.objects.create(pk=1, stopped_at=NOW, try_again_at=later + timedelta(minutes=1))
    tick.scan(clock=at(later))
    found = health(now=later)
    assert found.works
    assert found.mail_stopped
    assert found.oldest_due == 16 * 60
    assert not found.is_good


def test_health_counts_what_needs_somebody_and_names_nobody(client, django_user_model):
    first, second = customer_mail(), customer_mail()
    OutboxMail.objects.filter(pk=first.pk).update(state="dead", last_error="Ada Marked-Name")
    OutboxMail.objects.filter(pk=second.pk).update(state="unknown")
    answer = client.get("/healthz")
    assert (answer.json()["dead"], answer.json()["unknown"]) == (1, 1)
    assert "@" not in answer.content.decode()
    assert "Marked" not in answer.content.decode()
    assert set(answer.json()) == {
        "status",
        "worker",
        "last_pass_seconds",
        "oldest_due_seconds",
        "dead",
        "unknown",
        "mail",
    }


def test_health_cannot_be_posted_to(client):
    assert client.post("/healthz").status_code == 405
