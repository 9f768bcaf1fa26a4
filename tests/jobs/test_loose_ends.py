"""What no promise holds is on the worklist too, and the list can be narrowed."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.models import OutboxMail
from jobs.models.company import company_day
from jobs.pages.loose_ends import feeders_without_recheck, loose_ends
from tests.conftest import NOW
from tests.factories import (
    make_follow_up,
    make_job,
    make_rule,
    make_site,
    make_startup_train,
    make_visit,
)

pytestmark = pytest.mark.django_db


def closed(train, feeder, days_ago, outcome="completed"):
    at = NOW - timedelta(days=days_ago)
    job = make_job(train=train, now=at)
    return make_visit(job=job, starts_at=at, outcome=outcome, feeder_left=feeder, now=at)


def test_a_feeder_left_on_without_any_recheck_is_loose():
    train = make_startup_train()
    closed(train, "on", 3)
    assert list(feeders_without_recheck()) == [train]


@pytest.mark.parametrize("status", ["open", "done"])
def test_a_promised_or_kept_recheck_holds_it(status):
    train = make_startup_train()
    closed(train, "on", 3)
    make_follow_up(train=train, rule=make_rule("f1"), status=status)
    assert not feeders_without_recheck()


def test_a_waived_recheck_holds_nothing():
    train = make_startup_train()
    closed(train, "on", 3)
    make_follow_up(train=train, rule=make_rule("f1"), status="waived")
    assert list(feeders_without_recheck()) == [train]


def test_only_the_last_visit_counts():
    train = make_startup_train()
    closed(train, "on", 9)
    closed(train, "unplugged", 2)
    assert not feeders_without_recheck()


def test_dead_mail_is_counted():
    OutboxMail.objects.create(
        key="k",
        mail_class="staff",
        template="overdue_list",
        recipient="a@example.com",
        state="dead",
        not_before=NOW,
        useful_until=NOW,
        created_at=NOW,
    )
    assert loose_ends(NOW).mails == 1


def test_nothing_loose_shows_nothing(dispatcher_client):
    assert (
        "nobody has promised to come back"
        not in dispatcher_client.get(reverse("worklist")).content.decode()
    )


@pytest.mark.parametrize(
    ("asked", "shown"),
    [
        ({}, {"Kestrel Ford", "Larkmoor"}),
        ({"town": "larkm"}, {"Larkmoor"}),
        ({"show": "late"}, {"Kestrel Ford"}),
        ({"show": "no_visit"}, {"Kestrel Ford", "Larkmoor"}),
        ({"show": "unreached"}, set()),
        ({"show": "moon"}, {"Kestrel Ford", "Larkmoor"}),
        ({"harm": "4"}, {"Kestrel Ford", "Larkmoor"}),
        ({"harm": "3"}, set()),
        ({"harm": "5"}, set()),
        ({"harm": "moon"}, {"Kestrel Ford", "Larkmoor"}),
    ],
)
def test_the_list_is_narrowed(dispatcher_client, asked, shown):
    today = company_day(timezone.now())
    for town, days in (("Kestrel Ford", 30), ("Larkmoor", 0)):
        make_follow_up(
            train=make_startup_train(site=make_site(town=town)),
            rule=make_rule("f1"),
            due_on=today - timedelta(days=days),
        )
    page = dispatcher_client.get(reverse("worklist"), asked)
    rows = [row for group in page.context["groups"] for row in group.rows]
    assert {row.follow_up.site.town for row in rows} == shown


def test_more_of_them_than_are_shown_are_counted(dispatcher_client, monkeypatch):
    for days in (3, 4, 5):
        closed(make_startup_train(), "on", days)
    monkeypatch.setattr("jobs.pages.loose_ends.SHOWN", 1)
    page = " ".join(dispatcher_client.get(reverse("worklist")).content.decode().split())
    assert "And 2 more systems left on without a recheck." in page


def test_what_is_put_off_is_shown_when_asked_for(dispatcher_client):
    today = company_day(timezone.now())
    promise = make_follow_up(train=make_startup_train(), due_on=today)
    sent = {"until": (today + timedelta(days=9)).isoformat(), "reason": "away"}
    dispatcher_client.post(reverse("follow-up-snooze", args=[promise.pk]), sent)
    make_follow_up(train=make_startup_train(), due_on=today)
    for asked, shown in (({}, False), ({"show": "put_off"}, True)):
        page = dispatcher_client.get(reverse("worklist"), asked)
        rows = [row.follow_up for group in page.context["groups"] for row in group.rows]
        assert [row == promise for row in rows] == [shown]
