"""One waking: every part for itself, its moment kept; health is read from there."""

from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.core import mail as django_mail
from django.db import OperationalError

from jobs.mail.smtp import Answer, Verdict
from jobs.models import ChannelStop, OutboxMail, WorkerPass
from jobs.workflows import outbox, restarts, tick
from jobs.workflows.health import health
from tests.jobs.mail.letters import NOW, a_visit, again, customer_mail
from tests.jobs.workflows.sending import Postbox, a_pass

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
        "asks": NOW,
        "outbox": NOW,
        "night": NOW,
    }


def test_lists_are_looked_through_once_an_hour():
    looked = []
    for minutes in (0, 30, 59, 61):
        tick.scan(clock=at(NOW + timedelta(minutes=minutes)))
        looked.append(WorkerPass.objects.get(name="lists").finished_at - NOW)
    assert looked == [timedelta(minutes=minutes) for minutes in (0, 0, 0, 61)]


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


def test_a_database_that_cannot_be_written_ends_no_scan(monkeypatch, caplog):
    """A full disk: every part fails, each is said, and the next scan finds the same rows."""
    customer_mail()

    def full(**kwargs):
        raise OperationalError("database or disk is full")

    with monkeypatch.context() as patch:
        patch.setattr(WorkerPass.objects, "update_or_create", full)
        patch.setattr(tick.outbox, "claim", full)
        assert tick.scan(clock=at(NOW)) == 0
    assert caplog.text.count("of the scan failed: OperationalError") == len(tick.PARTS)
    assert django_mail.outbox == []
    assert not health(now=NOW).works
    tick.scan(clock=at(NOW + timedelta(minutes=1)))
    assert len(django_mail.outbox) == 1
    assert health(now=NOW + timedelta(minutes=1)).works


@pytest.mark.parametrize("jump", [timedelta(days=1), timedelta(hours=3), timedelta(days=400)])
def test_a_clock_that_jumped_ahead_and_back_is_said_and_heals_at_the_next_tick(client, clock, jump):
    """+1 day and back: what was written in between lies in the future."""
    tick.scan(clock=at(NOW + jump))
    clock(NOW + timedelta(minutes=1))
    answer = client.get("/healthz")
    assert answer.status_code == 503
    assert answer.json()["worker"] == "silent"
    assert answer.json()["last_pass_seconds"] == 60 - jump.total_seconds()
    tick.scan(clock=at(NOW + timedelta(minutes=2)))
    clock(NOW + timedelta(minutes=2))
    assert client.get("/healthz").json()["status"] == "ok"
    assert WorkerPass.objects.get(name="lists").finished_at == NOW + timedelta(minutes=2)


def test_a_clock_set_back_by_a_day_is_said_and_heals_at_the_next_tick():
    tick.scan(clock=at(NOW))
    yesterday = NOW - timedelta(days=1)
    assert not health(now=yesterday).is_good
    tick.scan(clock=at(yesterday))
    assert health(now=yesterday).is_good


def test_two_machines_may_differ_by_seconds():
    tick.scan(clock=at(NOW))
    assert health(now=NOW - timedelta(seconds=10)).works
    assert not health(now=NOW - timedelta(seconds=11)).works


def test_mail_goes_on_after_a_clock_that_jumped_ahead_while_the_server_was_away(monkeypatch):
    """The server turns us away on the wrong day; back on the right one nothing waits for it."""
    mail = customer_mail(days=30)
    ahead = NOW + timedelta(days=1)
    a_pass(monkeypatch, Postbox(Answer(Verdict.CHANNEL, "421", "busy")), at=ahead)
    a_pass(monkeypatch, Postbox(), at=NOW + timedelta(minutes=1))
    assert again(mail).state == "sent"


def test_a_message_put_off_on_the_wrong_day_is_not_put_off_for_a_day(monkeypatch):
    mail = customer_mail(days=30)
    ahead = NOW + timedelta(days=1)
    a_pass(monkeypatch, Postbox(Answer(Verdict.LATER, "451", "later")), at=ahead)
    assert again(mail).not_before > ahead
    a_pass(monkeypatch, Postbox(), at=NOW + timedelta(minutes=1))
    assert again(mail).state == "sent"


def test_a_sender_that_died_on_the_wrong_day_keeps_no_message_for_a_day(monkeypatch):
    mail = customer_mail(days=30)
    outbox.claim(now=NOW + timedelta(days=1))
    a_pass(monkeypatch, Postbox(), at=NOW + timedelta(minutes=1))
    assert again(mail).state == "sent"


def test_a_reminder_for_later_is_not_hurried_by_that(monkeypatch):
    """What was written for a later hour and never tried waits for it."""
    mail = customer_mail(days=30)
    OutboxMail.objects.filter(pk=mail.pk).update(not_before=NOW + timedelta(days=5))
    a_pass(monkeypatch, Postbox(), at=NOW)
    assert again(mail).state == "queued"
    assert again(mail).not_before == NOW + timedelta(days=5)


def test_a_process_that_keeps_falling_is_not_healthy(client, settings, tmp_path, clock):
    settings.RESTARTS_FILE = tmp_path / "restarts.json"
    tick.scan(clock=at(NOW))
    kept = restarts.Kept(settings.RESTARTS_FILE)
    for number in range(6):
        kept.add("worker", "ended by signal 9", now=NOW - timedelta(minutes=number))
        answer = client.get("/healthz")
        assert answer.json()["restarts"] == {"worker": number + 1}
        assert answer.json()["status"] == ("falling" if number == 5 else "ok")
        assert answer.status_code == (503 if number == 5 else 200)
    clock(NOW + timedelta(minutes=59))
    assert client.get("/healthz").json()["restarts"] == {"worker": 1}


@pytest.mark.parametrize(("free_mib", "status"), [(32, "ok"), (31, "disk full")])
def test_a_disk_without_room_is_said_before_a_write_fails(
    client, clock, monkeypatch, free_mib, status
):
    clock(NOW)
    tick.scan(clock=at(NOW))
    disk = SimpleNamespace(free=free_mib * 2**20)
    monkeypatch.setattr("jobs.workflows.health.shutil.disk_usage", lambda _folder: disk)
    answer = client.get("/healthz")
    assert answer.status_code == (200 if status == "ok" else 503)
    assert (answer.json()["status"], answer.json()["disk_free_mib"]) == (status, free_mib)


def test_without_a_database_health_says_so(client, monkeypatch):
    def gone(now):
        raise OperationalError("no connection")

    monkeypatch.setattr("jobs.views.health.health.health", gone)
    answer = client.get("/healthz")
    assert (answer.status_code, answer.json()) == (503, {"status": "no database"})


def test_never_a_pass_is_not_good(client):
    assert not health(now=NOW).works
    assert client.get("/healthz").status_code == 503


def test_health_follows_the_last_pass():
    tick.scan(clock=at(NOW))
    assert health(now=NOW + timedelta(seconds=170)).is_good
    assert not health(now=NOW + timedelta(seconds=190)).works


def falls(clock, asked_to_end):
    raise OSError


def test_health_is_not_good_before_each_watched_part_has_ended_once(monkeypatch):
    monkeypatch.setitem(tick.PARTS, "outbox", (falls, None))
    tick.scan(clock=at(NOW))
    assert not health(now=NOW).works


def test_one_part_that_heals_does_not_hide_one_that_stays_in_the_future(monkeypatch):
    tick.scan(clock=at(NOW + timedelta(days=1)))
    monkeypatch.setitem(tick.PARTS, "outbox", (falls, None))
    tick.scan(clock=at(NOW))
    assert not health(now=NOW).works


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
        "disk_free_mib",
        "status",
        "worker",
        "last_pass_seconds",
        "oldest_due_seconds",
        "dead",
        "unknown",
        "mail",
        "restarts",
    }


def test_health_cannot_be_posted_to(client):
    assert client.post("/healthz").status_code == 405
