"""The letter after a record says what comes next at this house, and not what was just done."""

from datetime import timedelta

import pytest
from django.core.management import call_command

from jobs.mail.words import PURPOSES
from jobs.models import FollowUp, OutboxMail, Visit
from jobs.workflows.records import close_record, open_record
from tests.acts import HOUR, booked, closed, opened, sold
from tests.conftest import NOW
from tests.factories import make_startup_train
from tests.jobs.mail.letters import text_of
from tests.jobs.test_loading import started_up, worked_again
from tests.record_scenes import acknowledge_all, answer, answer_all

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def rules(db):
    call_command("load_rules", verbosity=0)


def promised(code, *, at):
    return FollowUp.objects.alive().get(terms__rule__code=code, site=at)


def rechecked(train, lead, *, day, carried=()):
    """The record of a recheck is closed, its visit is not yet."""
    at = NOW + day * DAY
    visit = booked(opened(train, "recheck", at=at), lead, at=at, follow_ups=carried)
    record = open_record(job=visit.job, purpose="recheck", by=lead, now=at)
    answer_all(record, lead, without=("pump-setting", "steps"), now=at)
    feeder = train.stages.get(kind="feeder")
    for side in ("found", "left"):
        answer(record, lead, "pump-setting", "20", stage=feeder, side=side, now=at)
    acknowledge_all(record, lead, now=at)
    return close_record(record=record, visit=visit, by=lead, now=at + HOUR), visit


def named(promise):
    """The newest letter tells the household of it."""
    mail = OutboxMail.objects.filter(template="record_summary").latest("pk")
    kind = promise.terms.job_kind
    return f"- About {promise.due_on:%B %-d, %Y}: {PURPOSES[kind]}" in text_of(mail)


@pytest.mark.parametrize(("day", "comes"), [(3, True), (14, False)])
def test_a_recheck_in_its_window_is_not_announced_again(day, comes):
    """Its window opens a week before the day; a look before that does not take its place."""
    first, lead = started_up()
    promise = promised("f1", at=first.site)
    rechecked(first.train, lead, day=day)
    assert named(promise) is comes


def test_a_recheck_that_ended_otherwise_is_still_to_come():
    first, lead = started_up()
    promise = promised("f1", at=first.site)
    _, visit = rechecked(first.train, lead, day=14)
    assert not named(promise)
    closed(visit, Visit.Outcome.REFERRED, at=NOW + 14 * DAY + 2 * HOUR)
    assert FollowUp.objects.alive().filter(pk=promise.pk).exists()
    assert named(promise)


def test_a_refill_that_was_taken_along_and_not_poured_is_still_to_come():
    first, lead = started_up()
    refill = promised("f3", at=first.site)
    rechecked(first.train, lead, day=14, carried=FollowUp.objects.filter(pk=refill.pk))
    refill.refresh_from_db()
    assert named(refill)


def test_papers_of_the_office_and_work_at_other_houses_are_not_announced():
    first, lead = started_up()
    sold(first.site, on=(NOW + 2 * DAY).date(), at=NOW + 2 * DAY)
    rechecked(first.train, lead, day=14)
    assert not named(promised("f20", at=first.site))

    train = make_startup_train(injection="before", switching="switch_load")
    worked_again(train, lead, kind="startup", at=NOW + 30 * DAY)
    assert named(promised("f1", at=train.site))
    here = FollowUp.objects.alive().filter(site=first.site).exclude(terms__job_kind="")
    assert here
    assert not any(named(row) for row in here)
