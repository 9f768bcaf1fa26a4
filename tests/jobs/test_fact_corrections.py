"""Wrong installer, day, origin or answer: put right by a newer row, with a reason and a name."""

from datetime import date, timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse

from jobs.errors import BadEntry, NotAllowed, WrongState
from jobs.models import (
    CallbackFact,
    Follow,
    FollowUp,
    HandoverFact,
    Job,
    LogEntry,
    LossFact,
    RuleCode,
)
from jobs.reports.callback_jobs import Selection
from jobs.reports.callbacks import callback_report
from jobs.workflows import fact_corrections as workflow
from jobs.workflows.fact_corrections import Handed
from jobs.workflows.jobs import cancel_job
from tests.acts import called_back, opened, visited, worked
from tests.conftest import make_person, signed_in
from tests.factories import make_follow_up, make_staff, make_train
from tests.jobs.random_company import noon

pytestmark = pytest.mark.django_db
DAY, TODAY = date(2026, 1, 10), date(2026, 6, 10)
WHY = "the other one led that day"


def later(days):
    return DAY + timedelta(days=days)


@pytest.fixture
def ida():
    return make_person("ida", "technician", "owner", first_name="Ida", last_name="Rowan")


@pytest.fixture
def ben():
    return make_person("ben", "technician", "owner", first_name="Ben", last_name="Fenn")


@pytest.fixture
def job(ida):
    return worked(make_train(stages=("softener",)), ida, at=noon(DAY))


def followed(job):
    row = Follow.objects.get(job=job)
    return Follow.How(row.how).name, row.ended


def led(who, job, owner, reason=WHY, day=DAY):
    return workflow.correct_handover(
        job=job, handed=Handed(who, day), reason=reason, by=owner, now=noon(TODAY)
    )


def text(client, name, pk):
    return " ".join(client.get(reverse(name, args=[pk])).content.decode().split())


def test_another_lead_takes_the_job_over_and_both_are_readable(job, ida, ben, owner, owner_client):
    called_back(job, at=noon(later(5)))
    page = reverse("handover-correct", args=[HandoverFact.objects.get().pk])
    sent = {"installer": ben.pk, "day": DAY.isoformat(), "reason": WHY}
    assert owner_client.post(page, sent).status_code == 302
    first, second = HandoverFact.objects.order_by("pk")
    assert (second.corrects, second.installer, second.recorded_by) == (first, ben, owner)
    assert [(row.person, row.did) for row in second.helpers.all()] == [(ida, "worked on it")]
    (person,) = callback_report(Selection(DAY, TODAY, 90, TODAY)).people
    assert (person.pk, person.counts.callbacks) == (ben.pk, 1)
    shown = text(owner_client, "job-detail", job.pk)
    assert "<s>lead Ida Rowan" in shown
    assert "<strong>lead Ben Fenn" in shown
    assert "Omar Cedar: the other one led that day" in shown
    assert LogEntry.objects.filter(verb="handover_corrected", by=owner).count() == 1


@pytest.mark.parametrize("reason", ["", "wrong", "nine  nin", "   123456789"])
def test_no_correction_without_ten_letters(job, ben, owner, owner_client, reason):
    page = reverse("handover-correct", args=[HandoverFact.objects.get().pk])
    sent = {"installer": ben.pk, "day": DAY.isoformat(), "reason": reason}
    answer = owner_client.post(page, sent)
    assert answer.status_code == 422
    assert HandoverFact.objects.count() == 1
    assert led(ben, job, owner, "0123456789").installer == ben


def test_nobody_decides_an_own_case(job, ida, ben):
    """Neither who would lose the job nor who would get it."""
    for by in (ida, ben):
        with pytest.raises(NotAllowed):
            led(ben, job, by)
    back = called_back(job, at=noon(later(5)))
    said = {"job": back, "origin": None, "reason": WHY, "now": noon(TODAY)}
    with pytest.raises(NotAllowed):
        workflow.correct_report(answer="no", by=ida, **said)
    with pytest.raises(NotAllowed):
        cancel_job(job=back, reason=WHY, booked_in_error=True, by=ida, now=noon(TODAY))
    page = reverse("report-correct", args=[CallbackFact.objects.get().pk])
    answer = signed_in(ida).post(page, {"answer": "no", "reason": WHY})
    assert "somebody else decides it" in answer.content.decode()
    assert followed(job) == ("CALLBACK", 5)


def test_the_page_is_the_owners(job, technician_client, dispatcher_client):
    fact = HandoverFact.objects.get()
    for client in (technician_client, dispatcher_client):
        answer = client.get(reverse("handover-correct", args=[fact.pk]))
        assert answer.status_code == 403


def test_another_day_and_never(job, ida, owner):
    called_back(job, at=noon(later(5)))
    led(ida, job, owner, "he wrote down the wrong day", day=later(2))
    assert followed(job) == ("CALLBACK", 3)
    job.refresh_from_db()
    assert job.index_on == later(2)
    led(ida, job, owner, "the bypass was never closed", day=None)
    assert not Follow.objects.exists()
    with pytest.raises(BadEntry):
        led(ida, job, owner, "it lies ahead of us", day=TODAY + timedelta(days=1))
    led(ida, job, owner, "it was closed after all", day=DAY)
    assert followed(job) == ("CALLBACK", 5)
    assert [row.day for row in HandoverFact.objects.order_by("pk")] == [DAY, later(2), None, DAY]


def test_nothing_changed_is_nothing_done(job, ida, owner):
    with pytest.raises(BadEntry):
        led(ida, job, owner)


@pytest.mark.parametrize("answer", ["no", "not_sure"])
def test_a_yes_that_was_none(job, owner_client, answer):
    back = called_back(job, at=noon(later(5)))
    assert followed(job) == ("CALLBACK", 5)
    page = reverse("report-correct", args=[CallbackFact.objects.get().pk])
    sent = {"answer": answer, "origin": job.pk, "reason": "it was the new heater"}
    assert owner_client.post(page, sent).status_code == 302
    assert followed(job) == ("NONE", Follow.NEVER)
    rows = CallbackFact.objects.filter(job=back).order_by("pk")
    assert [row.answer for row in rows] == ["yes", answer]
    back.refresh_from_db()
    assert back.callback_answer == answer
    (person,) = callback_report(Selection(DAY, TODAY, 90, TODAY)).people
    assert (person.withdrawn, person.recoded) == (1, 0)
    assert callback_report(Selection(DAY, TODAY, 90, TODAY)).corrected == 1


def test_wrong_origin_moves_it_and_keeps_the_day(job, ben, owner_client):
    other = worked(job.train, ben, "rebed", at=noon(later(3)))
    back = called_back(job, at=noon(later(5)))
    page = reverse("report-correct", args=[CallbackFact.objects.get().pk])
    assert "Ben Fenn, job" in owner_client.get(page).content.decode()
    sent = {"answer": "yes", "origin": other.pk, "reason": "the bed was the fault"}
    assert owner_client.post(page, sent).status_code == 302
    assert followed(job) == ("NONE", Follow.NEVER)
    assert followed(other) == ("CALLBACK", 2)
    shown = text(owner_client, "job-detail", job.pk)
    assert "corrected since, see the job" in shown
    assert "<s>reported 15 January 2026" in text(owner_client, "job-detail", back.pk)


def test_a_report_of_another_system_is_refused(job, ben, owner):
    elsewhere = worked(make_train(stages=("softener",)), ben, at=noon(later(1)))
    back = called_back(job, at=noon(later(5)))
    said = {"job": back, "answer": "yes", "reason": WHY, "by": owner, "now": noon(TODAY)}
    for origin in (elsewhere, back, None, job):
        with pytest.raises(BadEntry):
            workflow.correct_report(origin=origin, **said)
    plain = worked(job.train, ben, at=noon(later(8)))
    with pytest.raises(WrongState):
        workflow.correct_report(**{**said, "job": plain}, origin=job)


def test_no_that_was_a_yes_points_to_the_first_job(job, ben, owner):
    """A repair said to be no callback counts as work; corrected, it is a return of the first."""
    repair = visited(called_back(job, at=noon(later(4))), ben, at=noon(later(5)), cause="A_leak")
    wrong = Job.objects.get(pk=repair.pk)
    again = opened(job.train, "repair", at=noon(later(9)), callback_answer="no")
    visited(again, ben, at=noon(later(10)))
    assert Follow.objects.filter(job=again).exists()
    workflow.correct_report(
        job=again, answer="yes", origin=wrong, reason=WHY, by=owner, now=noon(TODAY)
    )
    assert CallbackFact.objects.standing().get(job=again).origin == job
    assert not Follow.objects.filter(job=again).exists()
    assert callback_report(Selection(DAY, TODAY, 90, TODAY)).returns == 2


# --- lost to sight ------------------------------------------------------------------------------


def test_service_ended_by_the_customer(job, ida, dispatcher_client, owner_client):
    promise = make_follow_up(train=job.train)
    page = reverse("service-end", args=[job.site_id])
    sent = {"on": later(40).isoformat(), "reason": "they took another company"}
    assert dispatcher_client.post(page, sent).status_code == 302
    assert followed(job) == ("CUSTOMER_GONE", 40)
    promise.refresh_from_db()
    assert promise.status == "waived"
    assert dispatcher_client.post(page, sent).status_code == 422
    assert "another company" in text(dispatcher_client, "site-detail", job.site_id)
    loss = LossFact.objects.get()
    withdraw = reverse("loss-withdraw", args=[loss.pk])
    assert signed_in(ida).post(withdraw, {"reason": "they came back to us"}).status_code == 422
    assert owner_client.post(withdraw, {"reason": "they came back to us"}).status_code == 302
    assert followed(job) == ("NONE", Follow.NEVER)
    assert owner_client.post(withdraw, {"reason": "they came back to us"}).status_code == 422


def test_a_cause_to_be_decided_keeps_no_service_from_ending(job, ben, owner):
    """What the owner has to decide stays his; everything else is given up."""
    call_command("load_rules", verbosity=0)
    visited(called_back(job, at=noon(later(4))), ben, at=noon(later(5)), cause="A_leak")
    make_follow_up(train=job.train)
    workflow.end_service(
        site=job.site, on=later(40), reason="they took another company", by=owner, now=noon(TODAY)
    )
    standing = FollowUp.objects.alive().filter(site=job.site)
    assert [row.rule.code for row in standing] == [RuleCode.CAUSE_REVIEW]


def test_what_was_no_callback_leaves_no_cause_to_decide(job, ben, owner):
    call_command("load_rules", verbosity=0)
    back = visited(called_back(job, at=noon(later(4))), ben, at=noon(later(5)), cause="A_leak")
    review = FollowUp.objects.alive().get(rule__code=RuleCode.CAUSE_REVIEW)
    workflow.correct_report(
        job=Job.objects.get(pk=back.pk),
        answer="no",
        origin=None,
        reason="the pump had tripped",
        by=owner,
        now=noon(TODAY),
    )
    review.refresh_from_db()
    assert (review.status, review.ended_reason) == ("done", "no callback: the pump had tripped")


@pytest.mark.parametrize(("days", "state"), [(30, ("NONE", Follow.NEVER)), (31, ("WATER_OFF", 10))])
def test_off_at_the_customers_wish(job, dispatcher_client, days, state):
    """Thirty days are no loss; after more the older work is not followed any more."""
    page = reverse("system-off", args=[job.train_id])
    sent = {"on": later(10).isoformat(), "reason": "away for the winter"}
    assert dispatcher_client.post(page, sent).status_code == 302
    assert followed(job) == ("WATER_OFF", 10)
    assert "On again since" in dispatcher_client.get(page).content.decode()
    early = dispatcher_client.post(page, {"on": later(9).isoformat()})
    assert early.status_code == 422
    assert dispatcher_client.post(page, {"on": later(10 + days).isoformat()}).status_code == 302
    assert followed(job) == state
    assert "On again since" not in dispatcher_client.get(page).content.decode()


def test_a_house_that_went_to_nobody_we_know_on_its_page(job, dispatcher_client, owner_client):
    page = reverse("tenure-change", args=[job.site_id])
    holder = job.site_id and job.customer.tenures.get()
    sent = {"on": later(20).isoformat(), "part": "owner", "ending": [holder.pk]}
    refused = dispatcher_client.post(page, {**sent, "buyer": "unknown", "ending": []})
    assert "Tick who leaves." in refused.content.decode()
    assert dispatcher_client.post(page, {**sent, "buyer": "unknown"}).status_code == 302
    assert followed(job) == ("CUSTOMER_GONE", 20)
    assert "changed hands: nobody knows" in text(dispatcher_client, "site-detail", job.site_id)
    assert "house: customer gone, 30 January 2026" in text(owner_client, "job-detail", job.pk)


def test_a_job_is_cancelled_on_its_page(job, dispatcher_client):
    back = called_back(job, at=noon(later(5)))
    page = reverse("job-cancel", args=[back.pk])
    assert "booked in error" in dispatcher_client.get(page).content.decode()
    sent = {"reason": "wrong house on the telephone", "booked_in_error": "on"}
    assert dispatcher_client.post(page, sent).status_code == 302
    back.refresh_from_db()
    assert back.status == "cancelled"
    assert followed(job) == ("NONE", Follow.NEVER)
    assert dispatcher_client.post(page, sent).status_code == 422


def test_who_helps_may_not_lead_from_a_list_of_strangers(job, owner_client):
    page = reverse("handover-correct", args=[HandoverFact.objects.get().pk])
    office = make_staff("dispatcher")
    sent = {"installer": office.pk, "day": DAY.isoformat(), "reason": WHY}
    assert owner_client.post(page, sent).status_code == 422
