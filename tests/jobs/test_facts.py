"""What is frozen when water is handed over, and what becomes of the job by later acts."""

from datetime import date, timedelta

import pytest
from django.db import DatabaseError, connection, transaction

from equipment import insert_only
from jobs.errors import WrongState
from jobs.models import CallbackFact, Follow, HandoverFact, HandoverHelper, LossFact
from jobs.reports.callback_jobs import Selection
from jobs.reports.callbacks import callback_report
from jobs.workflows import trains
from jobs.workflows.causes import review_cause
from jobs.workflows.jobs import cancel_job
from jobs.workflows.removals import put_back, take_out
from jobs.workflows.sites import begin_tenure
from tests.acts import arrived, booked, called_back, closed, opened, sold, visited, worked
from tests.factories import make_customer, make_staff, make_stage, make_train
from tests.jobs.random_company import noon

pytestmark = pytest.mark.django_db
DAY, TODAY = date(2026, 1, 10), date(2026, 6, 10)
FACTS = (HandoverFact, HandoverHelper, CallbackFact, LossFact)


def later(days):
    return DAY + timedelta(days=days)


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Ida", last_name="Rowan")


@pytest.fixture
def office():
    return make_staff("dispatcher")


@pytest.fixture
def job(lead):
    return worked(make_train(stages=("softener",)), lead, at=noon(DAY))


def followed(job):
    row = Follow.objects.get(job=job)
    return Follow.How(row.how).name, row.ended


def total(today=TODAY, window=90):
    return callback_report(Selection(DAY, today, window, today)).total


# --- insert only ----------------------------------------------------------------------------------


@pytest.fixture
def facts(job, lead):
    """A row of each kind."""
    called_back(job, at=noon(later(5)))
    sold(job.site, on=later(20), at=noon(TODAY), buyer="unknown")
    helper = make_staff("technician")
    visit = booked(opened(job.train, at=noon(later(30))), lead, at=noon(later(30)), helper=helper)
    arrived(visit)
    closed(visit)
    return {model: model.objects.first() for model in FACTS}


@pytest.mark.parametrize("model", FACTS)
def test_the_model_refuses_to_change_and_to_delete(facts, model):
    row = facts[model]
    for act in (row.save, row.delete, model.objects.all().delete):
        with pytest.raises(WrongState):
            act()
    with pytest.raises(WrongState):
        model.objects.update(pk=row.pk)


@pytest.mark.parametrize("model", FACTS)
@pytest.mark.parametrize("statement", ["UPDATE {} SET id = id", "DELETE FROM {}"])
def test_the_database_refuses_as_well(facts, model, statement):
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement.format(model._meta.db_table))
    assert insert_only.missing() == []


def test_no_fact_is_corrected_twice_and_no_job_has_two_chains(facts):
    first = facts[CallbackFact]
    copy = {"job": first.job, "answer": "no", "reported_on": DAY, "recorded_at": noon(DAY)}
    CallbackFact.objects.create(corrects=first, **copy)
    for again in ({"corrects": first}, {}):
        with pytest.raises(DatabaseError), transaction.atomic():
            CallbackFact.objects.create(**again, **copy)


# --- handed over ----------------------------------------------------------------------------------


def test_handing_over_freezes_who_what_and_where(lead):
    train = make_train(stages=("softener",))
    job = worked(train, lead, at=noon(DAY))
    fact = HandoverFact.objects.get(job=job)
    assert (fact.day, fact.installer, fact.train, fact.site) == (DAY, lead, train, train.site)
    assert (fact.kind, fact.water, fact.is_inherited) == ("other", "untested", False)
    assert (fact.method, fact.parts) == ("class/1", [train.stages.get().pk])
    assert (fact.corrects, fact.reason, fact.recorded_by) == (None, "", lead)
    assert followed(job) == ("NONE", Follow.NEVER)


def test_a_part_fitted_later_moves_no_job_to_another_class(lead):
    """Immortal time: a job without a feeder on its day stays without one for ever."""
    train = make_train(stages=("softener",))
    job = worked(train, lead, at=noon(DAY))
    make_stage(train=train, kind="feeder", position=2, fitted_on=later(60))
    make_stage(train=train, kind="filter", position=3, fitted_on=DAY)
    trains.end_stage(stage=train.stages.get(kind="softener"), on=DAY, by=lead, now=noon(TODAY))
    visited(called_back(job, at=noon(later(70))), lead, at=noon(later(71)), cause="A_leak")
    assert Follow.objects.get(job=job).work == 2 * 4 + 3


def test_who_helped_stays_a_helper_when_leading_later_jobs(lead):
    helper = make_staff("technician", last_name="Fenn")
    train = make_train(stages=("softener",))
    visit = booked(opened(train, at=noon(DAY)), lead, at=noon(DAY), helper=helper)
    arrived(visit)
    closed(visit)
    worked(train, helper, at=noon(later(20)))
    row = HandoverHelper.objects.get()
    assert (row.person, row.did, row.fact.job) == (helper, "helped", visit.job)
    assert [
        each.counts.jobs for each in callback_report(Selection(DAY, DAY, 30, TODAY)).people
    ] == [1]


def test_closed_with_the_bypass_open_no_water_was_handed_over(lead):
    job = worked(make_train(stages=("softener",)), lead, at=noon(DAY), bypass="bypassed")
    assert job.status == "completed"
    assert (job.index_on, HandoverFact.objects.count(), Follow.objects.count()) == (None, 0, 0)


def test_taken_over_systems_have_their_fact_and_are_not_followed(lead):
    train = make_train(stages=("softener",), is_inherited=True)
    job = worked(train, lead, at=noon(DAY))
    assert HandoverFact.objects.get(job=job).is_inherited
    train.is_inherited = False
    train.save()
    visited(called_back(job, at=noon(later(3))), lead, at=noon(later(4)), cause="A_leak")
    assert not Follow.objects.filter(job=job).exists()


def test_told_late_the_report_before_it_counts_for_the_work(lead):
    """Done on Saturday, told on Tuesday; the customer called on Sunday."""
    train = make_train(stages=("softener",))
    visit = booked(opened(train, at=noon(DAY)), lead, at=noon(DAY))
    arrived(visit)
    called_back(visit.job, at=noon(later(1)))
    assert not Follow.objects.exists()
    closed(visit, now=noon(later(3)))
    assert followed(visit.job) == ("CALLBACK", 1)


# --- reports --------------------------------------------------------------------------------------


def test_each_act_on_a_report_is_a_newer_row(job, lead, office):
    fixer = make_staff("technician", last_name="Birch")
    back = called_back(job, at=noon(later(5)))
    visited(back, fixer, at=noon(later(8)), cause="B_low")
    review_cause(
        callback=back, cause="A_leak", seen="B_low", reason="seen again", by=office, now=noon(TODAY)
    )
    rows = CallbackFact.objects.filter(job=back).order_by("pk")
    assert [(row.answer, row.cause, row.group) for row in rows] == [
        ("yes", "", ""),
        ("yes", "B_low", "B"),
        ("yes", "A_leak", "A"),
    ]
    assert [row.corrects for row in rows] == [None, rows[0], rows[1]]
    assert [row.reported_on for row in rows] == [later(5)] * 3
    assert rows[2].reason == "seen again"
    as_of = CallbackFact.objects.as_of(noon(later(20))).get(job=back)
    assert as_of.cause == "B_low"
    assert (followed(job), total().workmanship) == (("CALLBACK", 5), 1)


def test_three_reports_of_one_job_are_one_callback_and_three_returns(job, lead):
    back = called_back(job, at=noon(later(5)))
    called_back(back, at=noon(later(8)))
    called_back(job, at=noon(later(12)))
    found = callback_report(Selection(DAY, TODAY, 90, TODAY))
    assert (found.total.callbacks, found.returns) == (1, 3)
    assert followed(job) == ("CALLBACK", 5)


def test_somebody_elses_job_stays_somebody_elses(job, lead):
    """B repairs A's callback; C lays a new bed; what comes of the bed is C's, the rest A's."""
    b, c = (make_staff("technician", last_name=name) for name in ("Birch", "Cedar"))
    back = visited(called_back(job, at=noon(later(10))), b, at=noon(later(11)), cause="A_leak")
    bed = worked(job.train, c, "rebed", at=noon(later(40)))
    called_back(bed, at=noon(later(50)))
    called_back(back, at=noon(later(60)))
    people = {each.pk: each for each in callback_report(Selection(DAY, TODAY, 30, TODAY)).people}
    assert set(people) == {lead.pk, c.pk}
    assert (people[lead.pk].counts.callbacks, people[c.pk].counts.callbacks) == (1, 1)


def test_a_report_is_searched_for_over_a_year_whatever_the_page_shows(job):
    called_back(job, at=noon(later(120)))
    found = [total(window=window).callbacks for window in (30, 90, 365)]
    assert found == [0, 0, 0]
    assert total(window=365).outside == 1
    assert total(today=later(500), window=365).callbacks == 1


def test_callbacks_of_too_recent_jobs_are_in_no_rate(lead):
    train = make_train(stages=("softener",))
    hours = [noon(TODAY - timedelta(days=1)) + timedelta(hours=n) for n in range(10)]
    for at in [noon(DAY), *hours]:
        job = worked(train, lead, at=at)
        if at in hours[:2]:
            called_back(job, at=noon(TODAY))
    counts = total()
    assert (counts.judgeable, counts.callbacks, counts.recent, counts.outside) == (1, 0, 10, 2)


def test_cancelled_the_report_stays_and_booked_in_error_it_goes(job, office):
    first, second = called_back(job, at=noon(later(5))), called_back(job, at=noon(later(9)))
    cancel_job(
        job=first,
        reason="dialled the wrong number",
        booked_in_error=True,
        by=office,
        now=noon(later(10)),
    )
    assert followed(job) == ("CALLBACK", 9)
    assert CallbackFact.objects.standing().get(job=first).reason.startswith("booked in error")
    cancel_job(job=second, reason="they mended it", by=office, now=noon(later(10)))
    assert followed(job) == ("CALLBACK", 9)


# --- lost -----------------------------------------------------------------------------------------


def test_sold_to_nobody_we_know_and_then_he_calls(job, office):
    """Followed until the sale; when the buyer turns out to be our customer, all along."""
    sold(job.site, on=later(20), at=noon(later(25)), buyer="unknown")
    assert followed(job) == ("CUSTOMER_GONE", 20)
    begin_tenure(
        site=job.site,
        customer=make_customer(),
        from_on=later(20),
        by=office,
        now=noon(later(40)),
    )
    assert followed(job) == ("NONE", Follow.NEVER)
    assert [row.how for row in LossFact.objects.order_by("pk")] == ["customer", "stands"]


def test_known_late_the_sale_is_dated_on_the_day_it_happened(job):
    """A report before it was told and one after differ by that fact and by nothing else."""
    before = total(today=later(50), window=30)
    sold(job.site, on=later(20), at=noon(later(80)), buyer="not_ours")
    after = total(today=later(100), window=30)
    assert (before.judgeable, before.left) == (1, 0)
    assert (after.judgeable, after.left) == (0, 1)
    assert LossFact.objects.get().recorded_at == noon(later(80))


def test_called_back_and_gone_counts_gone_and_called_does_not(lead):
    hour = timedelta(hours=2)
    houses = [make_train(stages=("softener",)) for _ in range(2)]
    stayed, left = (worked(train, lead, at=noon(DAY) + n * hour) for n, train in enumerate(houses))
    called_back(stayed, at=noon(later(10)))
    sold(stayed.site, on=later(60), at=noon(later(60)), buyer="not_ours")
    sold(left.site, on=later(5), at=noon(later(5)), buyer="unknown")
    called_back(left, at=noon(later(30)))
    assert followed(stayed) == ("CALLBACK", 10)
    assert followed(left) == ("CUSTOMER_GONE", 5)
    report = callback_report(Selection(DAY, TODAY, 90, TODAY))
    counts = report.total
    assert (counts.judgeable, counts.callbacks, counts.left) == (1, 1, 1)
    assert (counts.outside, report.returns) == (0, 2)  # the second stands among the repeats alone


def test_taken_out_and_put_back(job, office):
    take_out(train=job.train, on=later(30), reason="too small", by=office, now=noon(later(30)))
    assert followed(job) == ("SYSTEM_GONE", 30)
    put_back(train=job.train, by=office, now=noon(later(31)))
    assert followed(job) == ("NONE", Follow.NEVER)


def test_a_cause_nobody_named_is_unknown_and_never_excluded(job):
    called_back(job, at=noon(later(5)))
    counts = total()
    assert (counts.callbacks, counts.unknown, counts.excluded, counts.workmanship) == (1, 1, 0, 0)
