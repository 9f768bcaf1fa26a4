"""Causes of callbacks: looked at by somebody else, changed with a reason, on record."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse

from jobs.errors import BadEntry, NotAllowed, WrongState
from jobs.models import FollowUp, FollowUpRule, Job, LogEntry
from jobs.workflows.causes import review_cause, settle_question
from tests.acts import called_back, visited, worked
from tests.conftest import NOW, make_person
from tests.factories import make_follow_up, make_job, make_rule, make_staff, make_train

pytestmark = pytest.mark.django_db


@pytest.fixture
def installer():
    return make_staff("technician", last_name="Rowan")


@pytest.fixture
def fixer():
    return make_staff("technician", last_name="Alder")


@pytest.fixture
def callback(installer, fixer, now):
    train = make_train()
    origin = make_job(
        train=train,
        kind=Job.Kind.STARTUP,
        status="completed",
        installer=installer,
        now=now - timedelta(days=30),
    )
    return make_job(
        train=train,
        kind=Job.Kind.CALLBACK,
        status="completed",
        origin=origin,
        now=now,
        callback_answer="yes",
        cause="B_low",
        cause_by=fixer,
        symptom="smells again",
    )


@pytest.fixture
def promise(callback, now):
    rule = make_rule(
        "f24", event="visit_closed", closing=FollowUpRule.Closing.ACKNOWLEDGED, subject="job"
    )
    return make_follow_up(rule=rule, site=callback.site, subject_key=f"job:{callback.pk}", now=now)


def review(callback, by, now, cause="B_low", reason="", seen=None):
    seen = callback.cause if seen is None else seen
    return review_cause(callback=callback, cause=cause, seen=seen, reason=reason, by=by, now=now)


def test_confirming_keeps_the_cause_and_settles_the_promise(callback, promise, owner, now):
    row = review(callback, owner, now)
    assert (row.cause, row.cause_reviewed_by, row.cause_reviewed_at) == ("B_low", owner, now)
    promise.refresh_from_db()
    assert (promise.status, promise.ended_by) == (FollowUp.Status.DONE, owner)


def test_changing_needs_a_reason_and_leaves_both_on_record(callback, owner, now):
    with pytest.raises(BadEntry) as refused:
        review(callback, owner, now, cause="A_leak")
    assert refused.value.field == "reason"
    row = review(callback, owner, now, cause="A_leak", reason="joint was wet on the photo")
    assert (row.cause, row.cause_by, row.cause_note) == (
        "A_leak",
        owner,
        "joint was wet on the photo",
    )
    assert [entry.cause for entry in row.history.all()] == ["A_leak", "B_low"]
    entry = LogEntry.objects.get(verb="cause_changed")
    assert (entry.data, entry.reason) == (
        {"cause": "A_leak", "before": "B_low"},
        "joint was wet on the photo",
    )


def test_installer_does_not_change_the_cause_alone(callback, installer, now):
    with pytest.raises(NotAllowed):
        review(callback, installer, now, cause="I_customer", reason="they turned the dial")
    callback.refresh_from_db()
    assert (callback.cause, callback.cause_reviewed_at) == ("B_low", None)


def test_installer_does_not_confirm_an_own_word(callback, installer, now):
    Job.objects.filter(pk=callback.pk).update(cause_by=installer)
    with pytest.raises(NotAllowed):
        review(callback, installer, now)


def test_installer_may_confirm_what_another_person_found(callback, installer, now):
    assert review(callback, installer, now).cause_reviewed_by == installer


def test_customer_as_a_cause_needs_words(callback, owner, now):
    Job.objects.filter(pk=callback.pk).update(cause="I_customer")
    with pytest.raises(BadEntry):
        review(callback, owner, now, cause="I_customer", seen="I_customer")
    Job.objects.filter(pk=callback.pk).update(cause_note="dial at 90, photo")
    assert review(callback, owner, now, cause="I_customer", seen="I_customer").cause_reviewed_at


def test_cause_changed_meanwhile_is_shown_again(callback, owner, now):
    Job.objects.filter(pk=callback.pk).update(cause="A_leak")
    with pytest.raises(WrongState):
        review(callback, owner, now, seen="B_low")


@pytest.mark.parametrize(
    "change", [{"status": "open", "completed_at": None}, {"callback_answer": "not_sure"}]
)
def test_only_closed_callbacks_are_reviewed(callback, owner, now, change):
    Job.objects.filter(pk=callback.pk).update(**change)
    with pytest.raises(WrongState):
        review(callback, owner, now)


def test_page_lists_what_waits_and_takes_the_answer(callback, promise, owner_client):
    assert callback.site.street in owner_client.get(reverse("cause-review")).content.decode()
    address = reverse("cause-decide", args=[callback.pk])
    assert "smells again" in owner_client.get(address).content.decode()
    refused = owner_client.post(address, {"cause": "A_leak", "seen": "B_low", "reason": ""})
    assert refused.status_code == 422
    assert "Say why, in ten letters or more." in refused.content.decode()
    done = owner_client.post(
        address, {"cause": "A_leak", "seen": "B_low", "reason": "seen on the photo"}
    )
    assert done.status_code == 302
    text = owner_client.get(address).content.decode()
    assert "oxidant set too low &rarr; leak at a joint" in text
    assert "No cause waits" in owner_client.get(reverse("cause-review")).content.decode()


def test_a_callback_just_closed_is_looked_at_and_changed_with_a_word(
    installer, fixer, owner_client
):
    """Opened in March, closed in April; 'no' is no reason."""
    call_command("load_rules", verbosity=0)
    train = make_train(stages=("softener",))
    first = worked(train, installer, at=NOW - timedelta(days=100))
    called = called_back(first, at=NOW - timedelta(days=80))
    job = visited(called, fixer, at=NOW - timedelta(days=70), cause="A_leak")
    assert "Cause of a callback to review" in owner_client.get(reverse("worklist")).content.decode()
    page = owner_client.get(reverse("cause-review")).content.decode()
    assert '<td data-of="closed">1 Apr 2026</td>' in page
    sent = {"cause": "B_low", "seen": "A_leak", "reason": "no"}
    where = reverse("cause-decide", args=[job.pk])
    assert "Say why, in ten letters or more." in owner_client.post(where, sent).content.decode()
    assert owner_client.post(where, {**sent, "reason": "as the photo shows"}).status_code == 302


def test_an_owner_who_installed_is_told_so_on_the_page(callback, client):
    owner_installer = make_person("ida", "owner", "technician")
    Job.objects.filter(pk=callback.origin_id).update(installer=owner_installer)
    client.force_login(owner_installer, backend="django.contrib.auth.backends.ModelBackend")
    answer = client.post(
        reverse("cause-decide", args=[callback.pk]),
        {"cause": "I_customer", "seen": "B_low", "reason": "they did it"},
    )
    assert answer.status_code == 422
    assert "somebody else has to decide" in answer.content.decode()


def test_a_question_is_decided_with_a_reason(callback, owner, installer, now):
    Job.objects.filter(pk=callback.pk).update(callback_answer="not_sure")
    with pytest.raises(BadEntry):
        settle_question(job=callback, answer="yes", reason="", by=owner, now=now)
    with pytest.raises(NotAllowed):
        settle_question(job=callback, answer="no", reason="other trade", by=installer, now=now)
    row = settle_question(job=callback, answer="yes", reason="same fault", by=owner, now=now)
    assert (row.callback_answer, row.origin_id) == ("yes", callback.origin_id)
    with pytest.raises(WrongState):
        settle_question(job=callback, answer="no", reason="other fault", by=owner, now=now)


def test_no_callback_loses_its_link(callback, owner_client):
    Job.objects.filter(pk=callback.pk).update(callback_answer="not_sure", recheck_missed=True)
    answer = owner_client.post(
        reverse("question-settle", args=[callback.pk]),
        {"answer": "no", "reason": "new heater was fitted"},
    )
    assert answer.status_code == 302
    callback.refresh_from_db()
    assert (callback.callback_answer, callback.origin, callback.recheck_missed) == (
        "no",
        None,
        False,
    )


def test_a_question_without_an_earlier_job_cannot_become_a_callback(callback, owner, now):
    Job.objects.filter(pk=callback.pk).update(callback_answer="not_sure", origin=None)
    with pytest.raises(BadEntry):
        settle_question(job=callback, answer="yes", reason="same fault", by=owner, now=now)
