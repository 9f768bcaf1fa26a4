"""What a person reads beside the matrix of addresses: how long, whose, kept by no cache."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from jobs.models.company import company_day
from jobs.schedule.free_times import at_hour
from tests.acts import booked, opened
from tests.conftest import NOW, signed_in
from tests.factories import make_record, make_staff, make_startup_train

pytestmark = pytest.mark.django_db
TODAY = company_day(NOW)


@pytest.fixture(autouse=True)
def ten_in_the_morning(clock):
    return clock


@pytest.fixture
def lead():
    return make_staff("technician")


def test_no_page_about_people_is_kept_by_a_cache(dispatcher_client, technician_client):
    for client, name in ((dispatcher_client, "worklist"), (technician_client, "my-day")):
        assert client.get(reverse(name)).headers["Cache-Control"] == "no-store, private"


def test_signing_in_leads_back_to_what_was_asked_for():
    where = reverse("worklist") + "?late=on"
    answer = Client().get(where)
    assert answer.url == reverse("sign-in") + "?next=/worklist/%3Flate%3Don"


@pytest.mark.parametrize(("days", "status"), [(-31, 404), (-30, 200), (60, 200), (61, 404)])
def test_a_technician_opens_houses_of_own_visits_of_a_month_back_and_two_ahead(lead, days, status):
    train = make_startup_train()
    at = at_hour(TODAY + timedelta(days=days), 9)
    booked(opened(train), lead, at=at, now=min(at, NOW))
    client = signed_in(lead)
    assert client.get(reverse("site-detail", args=[train.site_id])).status_code == status


def test_the_second_person_reads_house_and_record_too_and_a_stranger_neither(lead):
    train = make_startup_train()
    job = opened(train)
    record = make_record(job=job)
    helper = make_staff("technician")
    booked(job, lead, helper=helper, at=NOW + timedelta(hours=2))
    pages = [
        reverse("site-detail", args=[train.site_id]),
        reverse("record-detail", args=[record.pk]),
    ]
    for person, status in ((lead, 200), (helper, 200), (make_staff("technician"), 404)):
        assert [signed_in(person).get(page).status_code for page in pages] == [status, status]
