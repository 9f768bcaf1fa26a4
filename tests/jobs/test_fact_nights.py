"""Each night: what laboratories answered in two weeks, and the narrow table counted anew."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from jobs.models import Follow, HandoverFact, Job, Night
from jobs.workflows import nights
from jobs.workflows.fact_corrections import Handed, correct_handover
from jobs.workflows.fact_nights import (
    FollowDiffers,
    JobDiffers,
    compare,
    compare_jobs,
    complete_classes,
    warning,
)
from tests.acts import called_back, worked
from tests.factories import make_staff, make_train
from tests.jobs.random_company import build_company, noon
from tests.jobs.reports.test_water_class import read

pytestmark = pytest.mark.django_db
DAY = date(2026, 1, 10)


def later(days):
    return DAY + timedelta(days=days)


@pytest.fixture
def job():
    return worked(make_train(stages=("softener",)), make_staff("technician"), at=noon(DAY))


def water(job):
    return HandoverFact.objects.standing().get(job=job).water


@pytest.mark.parametrize(
    ("taken", "told", "found"),
    [(0, 14, "sulfide"), (0, 15, "untested"), (1, 2, "untested")],
    ids=["on the last day", "a day late", "taken afterwards"],
)
def test_a_laboratory_has_two_weeks(job, taken, told, found):
    read(job.site, "sulfide", 6, day=later(taken), told=later(told))
    complete_classes(noon(later(14)))
    assert water(job) == "untested"
    complete_classes(noon(later(15)))
    complete_classes(noon(later(16)))
    assert water(job) == found
    rows = list(HandoverFact.objects.filter(job=job).order_by("pk"))
    assert [row.reason for row in rows[1:]] == (["laboratory"] if found == "sulfide" else [])
    assert Follow.objects.get(job=job).work % 4 == ["sulfide", "low_ph", "usual", "untested"].index(
        found
    )


def test_a_reading_corrected_after_two_weeks_changes_nothing(job):
    row = read(job.site, "sulfide", 6, told=later(3))
    complete_classes(noon(later(15)))
    read(job.site, "sulfide", 0, told=later(20), corrects=row)
    complete_classes(noon(later(21)))
    assert water(job) == "sulfide"


def test_a_lead_put_right_meanwhile_does_not_keep_the_laboratory_out(job):
    read(job.site, "sulfide", 6, told=later(5))
    correct_handover(
        job=job,
        handed=Handed(make_staff("technician"), DAY),
        reason="Somebody else led it that day",
        by=make_staff("owner"),
        now=noon(later(3)),
    )
    complete_classes(noon(later(15)))
    complete_classes(noon(later(16)))
    assert water(job) == "sulfide"
    reasons = HandoverFact.objects.filter(job=job).order_by("pk").values_list("reason", flat=True)
    assert list(reasons) == ["", "Somebody else led it that day", "laboratory"]


def test_the_table_is_what_the_facts_say_after_a_year_of_acts():
    build_company(7)
    assert Follow.objects.count() > 10
    compare(noon(later(600)))
    compare_jobs(noon(later(600)))


@pytest.mark.parametrize(
    "harm",
    [
        lambda rows: rows.update(ended=3),
        lambda rows: rows.update(cause=4),
        lambda rows: rows.delete(),
    ],
    ids=["another day", "another cause", "gone"],
)
def test_a_difference_is_a_red_line_for_the_owner(job, owner_client, harm):
    called_back(job, at=noon(later(5)))
    harm(Follow.objects.filter(job=job))
    with pytest.raises(FollowDiffers, match=f"in 1: job {job.pk}$"):
        compare(noon(later(30)))
    kept = list(Follow.objects.values())
    Night.objects.create(day=later(29), error=f"{nights._fault_of(compare, noon(later(30)))}; x")
    assert list(Follow.objects.values()) == kept
    assert "differs from its facts in 1" in warning()
    page = owner_client.get(reverse("callbacks")).content.decode()
    assert "differs from its facts in 1" in page
    Night.objects.create(day=later(30), finished_at=noon(later(31)))
    assert "differs from" not in owner_client.get(reverse("callbacks")).content.decode()


@pytest.mark.parametrize(
    "column",
    [
        {"installer": None},
        {"index_on": later(1)},
        {"index_on": None},
        {"origin": None},
        {"callback_answer": "not_sure"},
        {"reported_on": later(6)},
        {"cause": "A_leak"},
        {"recheck_missed": True},
    ],
    ids=lambda column: next(iter(column)),
)
def test_a_job_that_says_another_thing_than_its_facts_is_told_to_the_owner(job, column):
    back = called_back(job, at=noon(later(5)))
    compare_jobs(noon(later(30)))
    wrong = job if column.keys() & {"installer", "index_on"} else back
    Job.objects.filter(pk=wrong.pk).update(**column)
    with pytest.raises(JobDiffers, match=f"in 1: job {wrong.pk}$"):
        compare_jobs(noon(later(30)))
    said = nights._fault_of(compare_jobs, noon(later(30)))
    Night.objects.create(day=later(29), error=f"x; {said}")
    assert "what a job says of itself differs from its facts in 1" in warning()


def test_the_night_does_all():
    assert {complete_classes, compare, compare_jobs} <= set(nights.PARTS)
