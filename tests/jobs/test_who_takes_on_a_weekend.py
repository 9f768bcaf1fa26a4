"""Who takes the visits of somebody away is looked for on every day on which somebody works."""

from datetime import time, timedelta

import pytest
from django.urls import reverse

from jobs.models import Absence, WorkHours
from jobs.schedule.free_times import at_hour
from tests.acts import booked, opened
from tests.conftest import NOW
from tests.factories import make_staff, make_train
from tests.jobs.people_at_work import TOMORROW, goes_away

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _clock(clock):
    return clock


def test_who_works_on_the_saturday_is_offered_as_another_day(dispatcher_client):
    """Whoever has hours of their own on a weekend can be booked then, and so is proposed."""
    lead, other, works = (
        make_staff("technician", last_name=name) for name in ("Fallow", "Oram", "Tarr")
    )
    visit = booked(opened(make_train()), lead, at=at_hour(TOMORROW, 9), now=NOW)
    for who in (other, works):
        goes_away(dispatcher_client, who, TOMORROW, TOMORROW + timedelta(days=1))
    saturday = TOMORROW + timedelta(days=2)
    hours = {"works_from": time(9), "works_until": time(12)}
    WorkHours.objects.create(person=works, weekday=saturday.weekday(), **hours)
    goes_away(dispatcher_client, lead, TOMORROW, saturday, kind="ill")
    where = reverse("absence", args=[Absence.objects.get(person=lead).pk])
    (row,) = dispatcher_client.get(where, {"on": TOMORROW}).context["rows"]
    assert row.visit == visit
    assert [(option.who, option.other_day) for option in row.options][-1:] == [
        (works.get_full_name(), saturday)
    ]
