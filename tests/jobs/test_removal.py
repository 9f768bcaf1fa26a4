"""A system is taken out of its house: parts, promises, pages and the report's lost jobs."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse

from jobs.errors import BadEntry, WrongState
from jobs.models import FollowUp, Job
from jobs.models.visits import day_start
from jobs.reports.callback_jobs import Selection
from jobs.reports.callbacks import callback_report
from jobs.workflows.records import close_record
from jobs.workflows.removals import put_back, take_out
from jobs.workflows.trains import end_stage
from tests.acts import booked, closed, opened, worked
from tests.conftest import NOW
from tests.factories import make_staff, make_startup_train
from tests.record_scenes import make_ready

pytestmark = pytest.mark.django_db
DAY, LATER = timedelta(days=1), NOW + timedelta(hours=5)
TODAY = NOW.date()
HANDED_OVER = TODAY - 40 * DAY


def noon(day):
    return day_start(day) + timedelta(hours=12)


@pytest.fixture
def lead():
    return make_staff("technician")


@pytest.fixture
def job(lead):
    """A start-up of forty days ago."""
    return worked(make_startup_train(), lead, Job.Kind.STARTUP, at=noon(HANDED_OVER))


def out(train, by, *, on=TODAY, reason="sold to a neighbour", now=NOW):
    return take_out(train=train, on=on, reason=reason, by=by, now=now)


def counts(window=90):
    chosen = Selection(TODAY - 300 * DAY, TODAY, window, TODAY)
    return callback_report(chosen).total


def test_the_office_takes_a_system_out_and_the_report_counts_it_as_lost(job, dispatcher_client):
    where = reverse("train-take-out", args=[job.train_id])
    page = dispatcher_client.get(where)
    assert "nothing treats this water" in page.content.decode()
    sent = {"on": TODAY - DAY, "reason": "too big", "once": page.context["once"]}
    before = counts()
    answer = dispatcher_client.post(where, sent, follow=True).content.decode()
    assert "was taken out on" in answer
    assert "No system is entered for this house." in answer
    after = counts()
    assert (before.removed, before.judgeable + before.recent) == (0, 1)
    assert (after.removed, after.judgeable + after.recent) == (1, 0)
    assert dispatcher_client.get(reverse("train-edit", args=[job.train_id])).status_code == 404


@pytest.mark.parametrize(("days", "removed"), [(30, 1), (31, 0)])
def test_it_is_lost_only_within_the_window(job, lead, days, removed):
    out(job.train, lead, on=HANDED_OVER + days * DAY)
    assert counts(window=30).removed == removed


@pytest.fixture
def started():
    """A start-up with its record: promises for the system, its parts and the house."""
    call_command("load_rules", verbosity=0)
    record, visit, lead = make_ready()
    close_record(record=record, visit=visit, by=lead, now=LATER)
    closed(visit, feeder="on", at=LATER)
    return record.job, lead


def about(rows):
    return {row.subject_key.split(":")[0] for row in rows}


def test_what_was_promised_for_it_ends_and_what_was_promised_for_the_house_stays(started):
    job, lead = started
    assert about(FollowUp.objects.alive()) == {"train", "stage", "site"}
    out(job.train, lead, now=LATER)
    assert about(FollowUp.objects.alive()) == {"site"}
    ended = FollowUp.objects.exclude(subject_key__startswith="site")
    assert about(ended) == {"train", "stage"}
    assert {row.status for row in ended} == {"waived"}
    assert {row.ended_by for row in ended} == {lead}
    assert all("taken out on 10 June 2026" in row.ended_reason for row in ended)


def test_nobody_comes_back_for_a_part_that_was_taken_out(started):
    job, lead = started
    softener = job.train.stages.get(kind="softener")
    promised = FollowUp.objects.alive().filter(stage=softener)
    assert promised.exists()
    others = FollowUp.objects.alive().count() - promised.count()
    end_stage(stage=softener, on=TODAY, by=lead, now=LATER)
    assert not promised.exists()
    assert FollowUp.objects.alive().count() == others


def test_putting_back_undoes_just_that(started, dispatcher_client):
    job, lead = started
    softener = job.train.stages.get(kind="softener")
    end_stage(stage=softener, on=TODAY, by=lead, now=LATER)
    stood = set(FollowUp.objects.alive())
    out(job.train, lead, now=LATER)
    assert not job.train.stages.fitted().exists()
    assert counts().removed == 1
    where = reverse("train-put-back", args=[job.train_id])
    page = dispatcher_client.get(where)
    assert "sold to a neighbour" in page.content.decode()
    dispatcher_client.post(where, {"once": page.context["once"]})
    job.train.refresh_from_db()
    softener.refresh_from_db()
    assert (job.train.removed_on, softener.removed_on) == (None, TODAY)
    assert job.train.stages.fitted().count() == 3
    assert set(FollowUp.objects.alive()) == stood
    assert counts().removed == 0
    with pytest.raises(WrongState, match="nobody took it out"):
        put_back(train=job.train, by=lead, now=LATER)


@pytest.mark.parametrize(
    ("on", "reason", "said"),
    [
        (TODAY + DAY, "too big", "lies ahead"),
        (HANDED_OVER - 2000 * DAY, "too big", "choose that day or a later one"),
        (TODAY, "  ", "Say why"),
    ],
)
def test_a_wrong_day_or_no_reason_is_refused(job, lead, on, reason, said):
    with pytest.raises(BadEntry, match=said):
        out(job.train, lead, on=on, reason=reason)
    job.train.refresh_from_db()
    assert job.train.removed_on is None


def test_open_work_and_visits_to_come_are_settled_first(job, lead):
    wanted = opened(job.train)
    with pytest.raises(WrongState, match="still open .Service"):
        out(job.train, lead)
    booked(wanted, lead, at=NOW + DAY, now=NOW)
    with pytest.raises(WrongState, match="A visit to this system stands, 11 June 2026"):
        out(job.train, lead)


def test_two_people_take_it_out_once(job, lead):
    out(job.train, lead)
    with pytest.raises(WrongState, match="taken out on 10 June 2026 already"):
        out(job.train, lead)
