"""Clocks that change, holidays, leave and midnight: a table of what is typed and what is held.

The moments stand in UTC as the calendar of the United States says them: the clocks of New York are
five hours behind in winter and four in summer, go forward on the second Sunday of March and back
on the first of November, each at two (Uniform Time Act, 15 U.S.C. 260a, as amended 2005).
"""

import re
from datetime import UTC, datetime

import pytest

from jobs.models import Visit
from tests.factories import make_site, make_staff, make_train
from tests.jobs.people_at_work import errors, goes_away, send, typed

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _clock(clock):
    return clock


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Tess", last_name="Alder")


@pytest.fixture
def site():
    return make_train(site=make_site(street="3 Otter Lane")).site


def utc(text):
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


#: what it is, day, from, minutes, what is asked first ("" for nothing), held from, held until
HELD = [
    (
        "before clocks go back",
        "2026-10-30",
        "09:00",
        60,
        "",
        "2026-10-30 13:00",
        "2026-10-30 14:00",
    ),
    (
        "after clocks went back",
        "2026-11-02",
        "09:00",
        60,
        "",
        "2026-11-02 14:00",
        "2026-11-02 15:00",
    ),
    (
        "three hours through the night in which an hour comes twice",
        "2026-11-01",
        "00:30",
        180,
        "is a Sunday",
        "2026-11-01 04:30",
        "2026-11-01 07:30",
    ),
    (
        "the hour that comes twice is the first of the two",
        "2026-11-01",
        "01:30",
        60,
        "is a Sunday",
        "2026-11-01 05:30",
        "2026-11-01 06:30",
    ),
    (
        "an hour over the one that is skipped",
        "2027-03-14",
        "01:30",
        60,
        "is a Sunday",
        "2027-03-14 06:30",
        "2027-03-14 07:30",
    ),
    (
        "after clocks went forward",
        "2027-03-15",
        "09:00",
        60,
        "",
        "2027-03-15 13:00",
        "2027-03-15 14:00",
    ),
    ("29 February", "2028-02-29", "09:00", 60, "", "2028-02-29 14:00", "2028-02-29 15:00"),
    (
        "Independence Day, kept on the Friday before",
        "2026-07-03",
        "09:00",
        60,
        "is a holiday",
        "2026-07-03 13:00",
        "2026-07-03 14:00",
    ),
    ("New Year", "2027-01-01", "09:00", 60, "is a holiday", "2027-01-01 14:00", "2027-01-01 15:00"),
    (
        "until midnight",
        "2026-06-11",
        "23:00",
        60,
        "outside the working hours",
        "2026-06-12 03:00",
        "2026-06-12 04:00",
    ),
    ("the day after leave", "2026-06-17", "07:00", 60, "", "2026-06-17 11:00", "2026-06-17 12:00"),
    ("the day before leave", "2026-06-15", "16:00", 60, "", "2026-06-15 20:00", "2026-06-15 21:00"),
]

#: what it is, day, from, minutes, field, sentence
REFUSED = [
    (
        "an hour that is skipped",
        "2027-03-14",
        "02:30",
        60,
        "start",
        "there is no 02:30 on that day",
    ),
    ("over midnight", "2026-06-11", "23:30", 60, "minutes", "A visit ends on the day it begins"),
    (
        "over midnight of the night in which an hour comes twice",
        "2026-11-01",
        "23:15",
        60,
        "minutes",
        "A visit ends on the day it begins",
    ),
    ("leave", "2026-06-16", "09:00", 60, "lead", "Tess Alder is away, Tuesday 16 June 2026"),
    ("a day that is over", "2026-06-09", "09:00", 60, "day", "This day is over"),
    ("more than two years ahead", "2028-06-12", "09:00", 60, "day", "at most two years ahead"),
]


def sent(lead, day, start, minutes):
    return typed(lead, day=day, start=start, minutes=minutes)


@pytest.mark.parametrize("case", HELD, ids=[case[0] for case in HELD])
def test_what_is_typed_is_held(dispatcher_client, lead, site, case):
    _, day, start, minutes, asked, begins, ends = case
    goes_away(dispatcher_client, lead, "2026-06-16")
    booking = sent(lead, day, start, minutes)
    answer = send(dispatcher_client, site, booking)
    if asked:
        page = answer.content.decode()
        assert asked in page
        sure = re.search(r'name="sure" value="([^"]+)"', page)[1]
        answer = send(dispatcher_client, site, {**booking, "sure": sure})
    assert answer.status_code == 302
    visit = Visit.objects.get()
    assert (visit.starts_at, visit.ends_at) == (utc(begins), utc(ends))
    held = list(visit.slots.order_by("quarter_at").values_list("quarter_at", flat=True))
    assert len(held) == minutes / 15
    assert (held[0], len(set(held))) == (utc(begins), len(held))


@pytest.mark.parametrize("case", REFUSED, ids=[case[0] for case in REFUSED])
def test_what_cannot_be_is_refused_at_its_field(dispatcher_client, lead, site, case):
    _, day, start, minutes, field, said = case
    goes_away(dispatcher_client, lead, "2026-06-16")
    answer = send(dispatcher_client, site, sent(lead, day, start, minutes))
    assert answer.status_code == 422
    assert said in errors(answer, field)
    assert "smell is back" in answer.content.decode()
    assert not Visit.objects.exists()


def test_the_hour_that_comes_twice_is_held_once_for_each(dispatcher_client, lead, site):
    """Two visits follow one another through it, and a third finds no room."""
    for start, minutes in (("00:30", 90), ("02:00", 60)):
        booking = sent(lead, "2026-11-01", start, minutes)
        page = send(dispatcher_client, site, booking).content.decode()
        sure = re.search(r'name="sure" value="([^"]+)"', page)[1]
        assert send(dispatcher_client, site, {**booking, "sure": sure}).status_code == 302
    first, second = Visit.objects.order_by("starts_at")
    assert (first.ends_at, second.starts_at) == (utc("2026-11-01 06:00"), utc("2026-11-01 07:00"))
