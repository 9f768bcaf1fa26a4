"""Hours that stood in the profile are those of Monday to Friday after the update, and back."""

from datetime import time

import pytest
from django.db import connection

from jobs.models import StaffProfile, VisitTold, WorkHours
from jobs.schedule.free_times import at_hour
from jobs.schedule.working_time import Plan
from jobs.workflows.visits import move_visit
from tests.acts import booked, held, opened
from tests.conftest import NOW
from tests.factories import make_staff, make_train
from tests.jobs.people_at_work import TOMORROW
from tests.jobs.test_ill_today import letters_leave
from tests.migrating import migrated

pytestmark = pytest.mark.django_db(transaction=True)
BEFORE = "0055_correct_steps_and_waits"


def hours_in_the_profile(lead):
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT works_from_hour, works_until_hour FROM jobs_staffprofile WHERE user_id = %s",
            [lead.pk],
        )
        return cursor.fetchone()


@pytest.mark.long
def test_hours_of_the_profile_are_taken_over_and_given_back():
    lead, other = make_staff("technician"), make_staff("technician")
    with migrated("jobs", BEFORE), connection.cursor() as cursor:
        cursor.execute(
            "UPDATE jobs_staffprofile SET works_from_hour = 9, works_until_hour = 15 "
            "WHERE user_id = %s",
            [lead.pk],
        )
    rows = WorkHours.objects.filter(person=lead).order_by("weekday")
    assert [(row.weekday, row.works_from, row.works_until) for row in rows] == [
        (day, time(9), time(15)) for day in range(5)
    ]
    plan = Plan.of([lead, other], TOMORROW, TOMORROW)
    assert plan.shift(lead.pk, TOMORROW).starts_at == at_hour(TOMORROW, 9)
    assert plan.shift(other.pk, TOMORROW).starts_at == at_hour(TOMORROW, 7)
    with migrated("jobs", BEFORE):
        assert hours_in_the_profile(lead) == (9, 15)
        assert hours_in_the_profile(other) == (None, None)
    assert StaffProfile.objects.count() == 2


@pytest.mark.long
def test_what_is_told_still_counts_as_answered_before_the_update():
    lead, other = make_staff("technician"), make_staff("technician")
    at = at_hour(TOMORROW, 9)
    visit = booked(opened(make_train()), lead, at=at, now=NOW)
    letters_leave()
    for who in (other, lead):
        visit = move_visit(
            visit=visit, version=visit.version, held=held(who, at=at), by=lead, now=NOW
        )
    assert VisitTold.objects.filter(visit=visit, how="still").count() == 1
    with migrated("jobs", "0062_visits_given_away"):
        assert VisitTold.objects.filter(visit=visit, how="answer").count() == 1
