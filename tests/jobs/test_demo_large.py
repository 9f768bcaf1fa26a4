"""The demo at the size of a real day: one load at a fixed moment, and what must hold of it."""

import re
from collections import Counter
from datetime import UTC, datetime, timedelta
from io import StringIO
from itertools import pairwise

import pytest
from django.contrib.auth.models import User
from django.core.management import call_command
from django.db import transaction
from django.test import override_settings
from django.urls import reverse

from equipment.models import Site, Train
from jobs.demo.calendar import Calendar
from jobs.demo.crowd import grown
from jobs.demo.loading import read
from jobs.models import Customer, FollowUp, Visit
from jobs.models.company import company_day
from tests.conftest import signed_in

#: a Wednesday, 13:30 in the company's zone (Eastern daylight time)
NOW = datetime(2026, 6, 10, 17, 30, tzinfo=UTC)
TODAY = company_day(NOW)
ROWS_A_DAY = range(55, 70)


@pytest.fixture(scope="module")
def _loaded(django_db_setup, django_db_blocker):
    with (
        django_db_blocker.unblock(),
        transaction.atomic(),
        override_settings(DEMO_SIZE="large"),
    ):
        for command in ("load_catalog", "load_rules", "load_checklists"):
            call_command(command, stdout=StringIO())
        call_command("load_demo", "--now", NOW.isoformat(), stdout=StringIO())
        yield
        transaction.set_rollback(True)


@pytest.fixture
def large(_loaded, db):
    return None


pytestmark = [pytest.mark.usefixtures("large"), pytest.mark.long]


def visits_by_day():
    standing = Visit.objects.exclude(status="cancelled")
    return Counter(company_day(visit.starts_at) for visit in standing)


def test_twelve_technicians_have_about_sixty_visits_on_each_day_of_a_week():
    technicians = User.objects.filter(groups__name="technician", is_active=True)
    assert technicians.count() == 12
    ahead = [day for day in sorted(visits_by_day()) if day >= TODAY][:6]
    assert all(visits_by_day()[day] in ROWS_A_DAY for day in ahead)
    for user in technicians:
        assert Visit.objects.standing().of_technician(user).on_day(TODAY).exists()


def test_what_lies_back_is_closed_and_nobody_is_at_two_places():
    late = Visit.objects.filter(status__in=("confirmed", "tentative"), ends_at__lt=NOW)
    assert not late.exists()
    for user in User.objects.filter(groups__name="technician"):
        times = Visit.objects.standing().of_technician(user).order_by("starts_at")
        held = list(times.values_list("starts_at", "ends_at"))
        assert all(first[1] <= second[0] for first, second in pairwise(held))
        assert times.filter(status="on_site").count() <= 1


def test_at_least_forty_promises_are_to_be_booked_within_the_month():
    due = FollowUp.objects.open().filter(visit=None, due_on__lte=TODAY + timedelta(days=31))
    assert due.count() >= 40


def test_the_day_shows_every_visit_and_every_person():
    office = signed_in(User.objects.get(username="marit"))
    page = office.get(reverse("day"), {"on": TODAY.isoformat()}).content.decode()
    count = Visit.objects.standing().on_day(TODAY).count()
    assert count in ROWS_A_DAY
    assert f"{count} visits, 12 people" in " ".join(page.split())
    for user in User.objects.filter(groups__name="technician"):
        assert user.last_name.split("-")[0] in page.replace("\u00ad", "")


def test_every_name_number_and_address_is_made_up_and_its_own():
    customers = list(Customer.objects.all())
    assert len({row.name for row in customers}) == len(customers) > 150
    numbers = [phone.as_e164 for row in customers for phone in row.phones]
    assert all(re.fullmatch(r"\+1(518|607|315|845)55501\d\d", number) for number in numbers)
    assert len(set(numbers)) == len(numbers)
    assert all(not row.email or row.email.endswith("@example.com") for row in customers)
    streets = list(Site.objects.values_list("street", "town"))
    assert len(set(streets)) == len(streets)


def test_the_story_of_the_small_company_is_in_it():
    story = read("demo.json")
    for house in story["houses"].values():
        assert Site.objects.filter(street=house["street"], town=house["town"]).exists()
    assert Train.objects.count() > 170


def test_the_same_day_makes_the_same_company():
    story, more = read("demo.json"), read("demo_large.json")
    assert grown(story, more, Calendar(NOW)) == grown(story, more, Calendar(NOW))
