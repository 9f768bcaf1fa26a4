"""Forty searches with slips among 2,000 invented households."""

from datetime import date

import pytest
from django.db import transaction

from equipment.models import Site
from jobs.search.find import search
from tests.bench import households, spoken

TODAY = date(2026, 6, 10)


@pytest.fixture(scope="module")
def town(django_db_setup, django_db_blocker):
    """Settled once for all searches; every row of it is gone afterwards."""
    with django_db_blocker.unblock(), transaction.atomic():
        houses = spoken.move_in()
        households.settle(range(2000))
        yield houses
        transaction.set_rollback(True)


def test_there_are_forty():
    assert len({typed for typed, _ in spoken.SEARCHES}) == 40
    assert {key for _, key in spoken.SEARCHES} == spoken.HOUSES.keys()


@pytest.mark.parametrize(("typed", "key"), spoken.SEARCHES)
def test_the_house_is_among_the_first_five(town, typed, key, db):
    hits = search(typed, Site.objects.all(), today=TODAY)
    assert town[key] in [hit.site for hit in hits[:5]]


@pytest.mark.parametrize("typed", ["qqxxzz", "914 555 9999", "wt9999999", "okonkwo wintergreen"])
def test_what_nobody_has_finds_nobody(town, typed, db):
    assert search(typed, Site.objects.all(), today=TODAY) == []
