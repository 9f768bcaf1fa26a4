"""A gate code is shown from half an hour before the visit until it is left, to who comes.

Common practice, no source.
"""

from datetime import timedelta

import pytest
from django.urls import reverse

from tests.acts import arrived, booked, closed, opened
from tests.conftest import NOW, signed_in
from tests.factories import make_site, make_staff, make_train

pytestmark = pytest.mark.django_db
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
CODE = "4072"


@pytest.fixture
def visit():
    train = make_train(site=make_site(gate_code=CODE))
    lead, helper = make_staff("technician"), make_staff("technician")
    return booked(opened(train), lead, at=NOW, now=NOW - 24 * HOUR, helper=helper)


@pytest.fixture
def reads(clock):
    """Whether the page of the house says the code to somebody at that moment."""

    def read(who, visit, moment):
        clock(moment)
        where = reverse("site-detail", args=[visit.job.site_id])
        page = signed_in(who).get(where)
        assert page.status_code == 200
        text = page.content.decode()
        assert ("half an hour before the visit" in text) == (CODE not in text)
        return CODE in text

    return read


@pytest.mark.parametrize("who", ["lead", "helper"])
def test_who_comes_reads_it_from_half_an_hour_before_until_left(visit, reads, who):
    person = getattr(visit, who)
    assert not reads(person, visit, NOW - 31 * MINUTE)
    assert reads(person, visit, NOW - 30 * MINUTE)
    arrived(visit, at=NOW)
    assert reads(person, visit, NOW + 4 * HOUR)
    closed(visit, at=NOW + 4 * HOUR, now=NOW + 4 * HOUR)
    assert not reads(person, visit, NOW + 4 * HOUR)


def test_somebody_who_was_there_before_does_not_read_it(visit, reads):
    earlier = make_staff("technician")
    closed(
        arrived(booked(opened(visit.job.train), earlier, at=NOW - 48 * HOUR), at=NOW - 48 * HOUR)
    )
    assert not reads(earlier, visit, NOW)


@pytest.mark.parametrize("role", ["dispatcher", "owner"])
def test_whoever_plans_reads_it_at_any_hour(visit, reads, role):
    assert reads(make_staff(role), visit, NOW - 20 * HOUR)


def test_the_sheet_of_the_day_is_paper_and_does_not_say_it(visit, dispatcher_client, clock):
    clock(NOW)
    where = reverse("day-sheet") + f"?on={NOW:%Y-%m-%d}"
    page = dispatcher_client.get(where).content.decode()
    assert "Gate code: on the phone" in page
    assert CODE not in page
