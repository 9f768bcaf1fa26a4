"""A house that nobody answers for, from the calls of the desk to the owner's report.

Three tries over sixty days: common practice, no source.
"""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from jobs.errors import WrongState
from jobs.models import Follow, LossFact
from jobs.reports.callback_jobs import Selection
from jobs.reports.callbacks import callback_report
from jobs.workflows.attempts import record_attempt
from jobs.workflows.unreached import follow_no_more
from jobs.workflows.visits import no_access
from tests.acts import arrived, booked, called_back, opened, visited, worked
from tests.factories import make_follow_up, make_staff, make_train
from tests.factories import some_user as some_dispatcher
from tests.jobs.random_company import noon

pytestmark = pytest.mark.django_db
DAY = date(2026, 1, 10)
WHY = "letters come back too"


def later(days):
    return DAY + timedelta(days=days)


@pytest.fixture
def lead():
    return make_staff("technician")


@pytest.fixture
def job(lead):
    return worked(make_train(stages=("softener",)), lead, at=noon(DAY))


@pytest.fixture
def promise(job):
    return make_follow_up(train=job.train)


def tried(promise, *days, how="not_reached"):
    by = some_dispatcher()
    return [record_attempt(follow_up=promise, how=how, by=by, now=noon(later(n))) for n in days]


def given_up(job, day):
    return follow_no_more(site=job.site, reason=WHY, by=some_dispatcher(), now=noon(later(day)))


def followed(job):
    row = Follow.objects.get(job=job)
    return Follow.How(row.how).name, row.ended


def counts():
    return callback_report(Selection(DAY, DAY, 90, later(200))).total


def test_three_tries_over_sixty_days_on_the_pages_of_the_desk(
    job, promise, dispatcher_client, monkeypatch
):
    attempt = reverse("follow-up-attempt", args=[promise.pk])
    page = reverse("site-unreached", args=[job.site_id])
    for day in (20, 50, 79):
        monkeypatch.setattr("jobs.views.attempts.timezone.now", lambda day=day: noon(later(day)))
        assert page not in dispatcher_client.get(attempt).content.decode()
        assert dispatcher_client.post(attempt, {"how": "not_reached"}).status_code == 302
    assert page in dispatcher_client.get(attempt).content.decode()
    monkeypatch.setattr("jobs.views.facts.timezone.now", lambda: noon(later(79)))
    early = dispatcher_client.post(page, {"reason": WHY})
    assert early.status_code == 422
    said = "3 tries without an answer since 30 January 2026: 3 over 60 days or more are needed."
    assert said in early.content.decode()
    assert (counts().judgeable, counts().left) == (1, 0)

    monkeypatch.setattr("jobs.views.facts.timezone.now", lambda: noon(later(80)))
    assert dispatcher_client.post(page, {"reason": WHY}).status_code == 302
    assert followed(job) == ("CUSTOMER_GONE", 20)
    assert (counts().judgeable, counts().left) == (0, 1)
    promise.refresh_from_db()
    assert (promise.status, promise.ended_reason) == ("waived", f"nobody can be reached: {WHY}")
    again = dispatcher_client.post(page, {"reason": WHY})
    assert "noted already" in again.content.decode()
    house = dispatcher_client.get(reverse("site-detail", args=[job.site_id])).content.decode()
    assert "could not be reached" in house.lower()


@pytest.mark.parametrize(
    ("days", "left"),
    [((), "No try"), ((5, 90), "2 tries"), ((30, 60, 89), "3 tries")],
    ids=["none", "two", "59 days"],
)
def test_fewer_tries_or_days_are_not_enough(job, promise, days, left):
    tried(promise, *days)
    with pytest.raises(WrongState, match=left):
        given_up(job, 89)


def test_whoever_answered_meanwhile_begins_the_count_anew(job, promise):
    tried(promise, 5, 20)
    tried(promise, 30, how="called")
    tried(promise, 80, 95)
    with pytest.raises(WrongState, match="2 tries without an answer since 31 March 2026"):
        given_up(job, 100)


def test_a_talk_between_tries_takes_the_way_there_off_the_page(job, promise, dispatcher_client):
    tried(promise, 5, 20)
    tried(promise, 30, how="called")
    tried(promise, 40, 50)
    page = dispatcher_client.get(reverse("follow-up-attempt", args=[promise.pk])).content.decode()
    assert reverse("site-unreached", args=[job.site_id]) not in page


def test_a_report_of_theirs_and_a_visit_begin_it_anew(job, promise, lead):
    tried(promise, 5, 20)
    opened(job.train, at=noon(later(40)))
    tried(promise, 50, 60)
    with pytest.raises(WrongState, match="2 tries"):
        given_up(job, 115)
    visited(opened(job.train, at=noon(later(61)), planned=True), lead, at=noon(later(70)))
    tried(promise, 80)
    with pytest.raises(WrongState, match="1 try"):
        given_up(job, 150)


def test_a_visit_that_found_nobody_does_not_begin_it_anew(job, promise, lead):
    tried(promise, 5, 20)
    planned = opened(job.train, at=noon(later(21)), planned=True)
    visit = arrived(booked(planned, lead, at=noon(later(30))))
    no_access(visit=visit, note="bell and gate", by=lead, now=noon(later(30)))
    tried(promise, 64)
    given_up(job, 65)
    assert followed(job) == ("CUSTOMER_GONE", 5)


def test_while_somebody_is_to_come_nobody_is_lost(job, promise, lead):
    tried(promise, 5, 40, 65)
    booked(opened(job.train, at=noon(later(4))), lead, at=noon(later(90)))
    with pytest.raises(WrongState, match="A visit stands"):
        given_up(job, 70)


def test_who_calls_again_is_followed_on_and_his_callback_counts(job, promise):
    tried(promise, 5, 40, 65)
    given_up(job, 70)
    called_back(job, at=noon(later(75)))
    assert followed(job) == ("CALLBACK", 75)
    assert (counts().judgeable, counts().callbacks, counts().left) == (1, 1, 0)
    newest = LossFact.objects.latest("pk")
    assert (newest.how, newest.reason) == ("stands", "reached again: they asked for work")


def test_who_answers_at_last_or_is_found_at_home_is_followed_on(job, promise, lead):
    tried(promise, 5, 40, 65)
    given_up(job, 70)
    other = make_follow_up(train=job.train)
    tried(other, 80, how="message")
    assert followed(job)[0] == "CUSTOMER_GONE"
    tried(other, 81, how="called")
    assert followed(job) == ("NONE", Follow.NEVER)
    tried(other, 90, 120, 155)
    given_up(job, 156)
    planned = opened(job.train, at=noon(later(157)), planned=True)
    visit = arrived(booked(planned, lead, at=noon(later(158))))
    no_access(visit=visit, note="bell and gate", by=lead, now=noon(later(158)))
    assert followed(job)[0] == "CUSTOMER_GONE"
    visited(planned, lead, at=noon(later(159)))
    assert followed(job) == ("NONE", Follow.NEVER)


def test_the_owner_takes_a_mistake_back_on_the_page_of_the_job(job, promise, owner_client):
    tried(promise, 5, 40, 65)
    lost = given_up(job, 70)
    page = owner_client.get(reverse("job-detail", args=[job.pk])).content.decode()
    withdraw = reverse("loss-withdraw", args=[lost.pk])
    assert withdraw in page
    sent = {"reason": "the wrong house was rung"}
    assert owner_client.post(withdraw, sent).status_code == 302
    assert followed(job) == ("NONE", Follow.NEVER)
