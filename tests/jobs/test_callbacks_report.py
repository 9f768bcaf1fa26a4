"""Callbacks per installer: counted again by hand, and the rules one by one."""

from datetime import date, timedelta

import pytest

from jobs.models import Job
from jobs.reports import callback_jobs
from jobs.reports.callback_jobs import Selection
from jobs.reports.callbacks import callback_report, rate_of, ratio_of
from jobs.workflows.causes import review_cause
from jobs.workflows.jobs import cancel_job
from jobs.workflows.removals import take_out
from tests.acts import called_back, sold, visited, worked
from tests.factories import (
    make_customer,
    make_job,
    make_site,
    make_staff,
    make_stage,
    make_tenure,
    make_train,
)
from tests.jobs.random_company import BEGIN, TODAY, build_company, noon
from tests.jobs.recount import recount
from tests.jobs.recounted import differences, selections

pytestmark = pytest.mark.django_db
DAY = date(2026, 1, 10)


def report(window=90, since=BEGIN, until=TODAY, today=TODAY):
    return callback_report(Selection(since, until, window, today))


#: a tenth of `python -m tests.bench recount`; each with what the others lack
@pytest.mark.parametrize("seed", [1, 4, 5, 19, 42])
def test_report_equals_a_recount_of_what_people_did(seed):
    company = build_company(seed)
    assert [line for each in selections() for line in differences(company, each)] == []


def test_list_of_jobs_behind_each_number_is_as_long_as_the_number():
    company = build_company(3)
    found = report()
    jobs = callback_jobs.looked_at(found.selection)
    again = recount(company, BEGIN, TODAY, 90, TODAY)
    assert {job.pk: job.state for job in jobs} == again.state_of
    for person in found.people:
        own = jobs.filter(installer=person.pk)
        assert own.filter(state="judgeable").count() == person.counts.judgeable
        called = own.filter(state="judgeable", cause_found__isnull=False)
        assert called.count() == person.counts.callbacks


def test_expected_of_all_persons_is_what_was_seen():
    build_company(5, houses=5, jobs=14)
    found = report()
    assert sum(person.expected for person in found.people) == pytest.approx(found.total.callbacks)


def _index(installer, *, day=DAY, train=None, **fields):
    train = train or make_train(stages=("softener",))
    fields = {"kind": Job.Kind.STARTUP, "status": "completed", **fields}
    return make_job(train=train, installer=installer, index_on=day, **fields)


def _callback(origin, *, after=10, **fields):
    fields = {"kind": Job.Kind.CALLBACK, "callback_answer": "yes", "cause": "A_leak", **fields}
    return make_job(
        train=origin.train,
        origin=origin,
        reported_on=origin.index_on + timedelta(days=after),
        **fields,
    )


@pytest.fixture
def installer():
    return make_staff("technician", first_name="Ida", last_name="Rowan")


def total(window=90):
    return report(window).total


def test_a_job_with_two_callbacks_counts_once_and_the_first_decides(installer):
    job = _index(installer)
    _callback(job, after=40, cause="A_leak")
    _callback(job, after=12, cause="G_source")
    counts = total()
    assert (counts.callbacks, counts.workmanship, counts.excluded) == (1, 0, 1)
    assert report().people[0].returns == 2


@pytest.mark.parametrize(("after", "callbacks"), [(0, 1), (90, 1), (91, 0)])
def test_clock_runs_from_handover_to_the_report_of_the_customer(installer, after, callbacks):
    _callback(_index(installer), after=after)
    assert total().callbacks == callbacks


def test_callback_before_the_paper_is_finished_has_its_origin(installer):
    """The clock begins when treated water was handed over, not when the job was completed."""
    _callback(_index(installer, status="open", completed_at=None), after=5)
    assert (total().judgeable, total().callbacks) == (1, 1)


def test_overdue_recheck_takes_an_oxidant_setting_out_of_workmanship(installer):
    _callback(_index(installer), cause="B_low", recheck_missed=True)
    _callback(_index(installer), cause="A_leak", recheck_missed=True)
    _callback(_index(installer), cause="B_low", recheck_missed=False)
    found = report()
    assert (found.total.callbacks, found.total.workmanship) == (3, 2)
    assert ("R", 1) in found.people[0].excluded


@pytest.mark.parametrize("cause", Job.Cause.values)
def test_only_groups_a_and_b_are_workmanship(installer, cause):
    _callback(_index(installer), cause=cause)
    assert total().workmanship == (1 if cause[0] in "AB" else 0)


def test_not_sure_is_no_callback(installer):
    _callback(_index(installer), callback_answer="not_sure")
    found = report()
    assert (found.total.callbacks, found.not_sure) == (0, 1)


def test_what_the_customer_reported_counts_although_we_had_promised_to_come(installer):
    job = worked(make_train(stages=("softener",)), installer, at=noon(DAY))
    back = called_back(job, at=noon(DAY + timedelta(days=5)), kind="recheck", planned=True)
    assert not back.planned
    assert total().callbacks == 1


def test_a_report_counts_although_its_visit_was_cancelled(installer):
    """The customer called; whether somebody came is another matter."""
    job = worked(make_train(stages=("softener",)), installer, at=noon(DAY))
    back = called_back(job, at=noon(DAY + timedelta(days=5)))
    assert total().callbacks == 1
    cancel_job(job=back, reason="called off", by=make_staff("dispatcher"), now=noon(TODAY))
    assert (total().callbacks, total().unknown, total().excluded) == (1, 1, 0)


def test_too_recent_and_lost_jobs_are_counted_apart(installer):
    """A callback of each before it is lost: then it counts."""
    recent = worked(
        make_train(stages=("softener",)), installer, at=noon(TODAY - timedelta(days=89))
    )
    hours = (noon(DAY) + n * timedelta(hours=1) for n in range(3))
    jobs = [worked(make_train(stages=("softener",)), installer, at=at) for at in hours]
    gone, out, called = jobs
    for job in (recent, called):
        called_back(job, at=noon(job.index_on + timedelta(days=10)))
    for job in (gone, called):
        on = DAY + timedelta(days=50)
        sold(job.site, on=on, at=noon(on), buyer="unknown")
    on = DAY + timedelta(days=90)
    take_out(train=out.train, on=on, reason="too small", by=make_staff("dispatcher"), now=noon(on))
    counts = total()
    assert (counts.recent, counts.left, counts.removed, counts.judgeable) == (1, 1, 1, 1)
    assert (counts.callbacks, counts.outside) == (1, 1)


@pytest.mark.parametrize(
    ("who", "buyer", "left"),
    [
        ("the owner", "ours", 0),
        ("the owner", "not_ours", 1),
        ("the owner", "unknown", 1),
        ("a tenant", "not_ours", 0),
    ],
)
def test_a_job_is_lost_when_the_house_goes_to_somebody_who_is_not_ours(installer, who, buyer, left):
    """A tenant who moves out takes nobody away who could call about the owner's system."""
    site = make_site(from_on=BEGIN)
    tenant = make_tenure(site=site, customer=make_customer(), part="tenant", is_contact=False)
    job = worked(make_train(site=site), installer, at=noon(DAY))
    ending = [tenant] if who == "a tenant" else None
    sold(site, on=DAY + timedelta(days=50), at=noon(TODAY), buyer=buyer, ending=ending)
    counts = total()
    assert (counts.left, counts.judgeable) == (left, 1 - left)
    assert job.customer != tenant.customer


def test_house_sold_after_the_window_stays_judgeable(installer):
    job = worked(make_train(), installer, at=noon(DAY))
    sold(job.site, on=DAY + timedelta(days=91), at=noon(TODAY), buyer="unknown")
    assert total().judgeable == 1


def test_callbacks_do_not_become_index_jobs(installer):
    job = _index(installer)
    _callback(job, kind=Job.Kind.REPAIR, status="completed", installer=installer)
    assert total().jobs == 1


def test_persons_stand_in_the_order_of_the_alphabet():
    for last in ("Yarrow", "alder", "Moss"):
        _index(make_staff("technician", last_name=last, first_name="X"))
    assert [person.name for person in report().people] == ["alder, X", "Moss, X", "Yarrow, X"]


def test_below_ten_jobs_there_is_no_rate(installer):
    assert rate_of(1, 9) is None
    assert rate_of(1, 10) is not None
    assert ratio_of(3, 0.99) is None


def test_rates_carry_published_wilson_limits():
    """Newcombe, Statistics in Medicine 17 (1998) 857, Table I, method 3: 81/263 and 15/148."""
    for jobs, callbacks, low, high in [(263, 81, 0.2553, 0.3662), (148, 15, 0.0624, 0.1605)]:
        found = rate_of(callbacks, jobs)
        assert found.low == pytest.approx(low, abs=5e-5)
        assert found.high == pytest.approx(high, abs=5e-5)


def test_allowing_for_the_kind_of_work_can_turn_the_picture():
    """Own worked example: 9 of 90 feeders against 2 of 10 feeders and 3 of 150 softeners."""
    a, b = (make_staff("technician", last_name=name) for name in ("Ash", "Beech"))
    for person, kind, jobs, callbacks in [
        (a, "feeder", 12, 3),
        (a, "softener", 2, 0),
        (b, "feeder", 2, 1),
        (b, "softener", 12, 0),
    ]:
        for number in range(jobs):
            train = make_train(site=make_site())
            make_stage(train=train, kind=kind, fitted_on=DAY)
            job = _index(person, train=train)
            if number < callbacks:
                _callback(job)
    ash, beech = report().people
    assert ash.counts.callbacks == 3
    assert ash.expected == pytest.approx(12 * 4 / 14)
    assert beech.expected == pytest.approx(2 * 4 / 14)
    assert beech.ratio is None  # less than one expected


def test_defects_at_planned_rechecks_stand_beside_and_are_no_callbacks(installer, now):
    job = _index(installer, day=date(2026, 3, 1))
    make_job(
        train=job.train,
        kind=Job.Kind.RECHECK,
        planned=True,
        defect_found=True,
        status="completed",
        index_on=None,
        completed_at=now - timedelta(days=60),
    )
    assert (total().defects, total().callbacks) == (1, 0)


def test_causes_stand_most_frequent_first_and_what_nobody_could_name_last(installer, owner):
    """Ten callbacks: one unknown is no alarm, two are more than a tenth."""
    train = make_train(stages=("softener",))
    causes = ["K_no_fault"] * 4 + ["A_leak"] * 3 + ["E_equipment"] * 2 + ["L_unknown"]
    for number, cause in enumerate(causes):
        at = noon(DAY) + number * timedelta(hours=4)
        job = worked(train, installer, at=at)
        back = visited(called_back(job, at=at), installer, at=at + timedelta(hours=2), cause=cause)
    found = report()
    assert [line.group for line in found.groups] == ["A", "E", "K", "L"]
    assert [round(line.running, 1) for line in found.groups] == [0.3, 0.5, 0.9, 1.0]
    assert not found.unknown_alarm
    seen = Job.objects.filter(cause="A_leak").first()
    review_cause(
        callback=seen,
        cause="L_unknown",
        seen="A_leak",
        reason="no trace of a leak",
        by=owner,
        now=noon(DAY),
    )
    assert back.cause == "L_unknown"
    assert report().unknown_alarm


def test_report_asks_the_database_a_fixed_number_of_times(installer, django_assert_max_num_queries):
    for _ in range(12):
        _callback(_index(make_staff("technician")))
    with django_assert_max_num_queries(11):
        report()


def test_an_empty_company_gives_an_empty_report():
    found = report()
    assert (found.people, found.strata, found.groups, found.theta) == ((), (), (), None)
    assert found.per_1000_days is None
