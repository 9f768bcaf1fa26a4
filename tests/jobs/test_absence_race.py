"""A booking and an absence at the same moment, fifty times: neither overlooks the other."""

import multiprocessing
from datetime import timedelta

import pytest
from django.db import connection

from jobs.models import Absence, LogEntry, Visit
from tests.conftest import NOW
from tests.factories import make_job, make_staff
from tests.jobs.absence_race import away_all, book_all

TRIES = 50


@pytest.mark.django_db(transaction=True)
def test_no_visit_is_booked_into_time_away_by_two_at_once():
    make_staff("dispatcher", username="the-dispatcher")
    make_staff("technician", username="the-technician")
    make_job()
    starts = [NOW + timedelta(hours=24 * number) for number in range(TRIES)]
    kept = ("ENGINE", "NAME", "USER", "PASSWORD", "HOST", "PORT", "OPTIONS")
    database = {key: connection.settings_dict[key] for key in kept}
    context = multiprocessing.get_context("spawn")
    barrier, results = context.Barrier(2), context.Queue()
    racers = [
        context.Process(target=work, args=(database, starts, barrier, results))
        for work in (book_all, away_all)
    ]
    for racer in racers:
        racer.start()
    won = results.get(timeout=240) or results.get(timeout=240)
    for racer in racers:
        racer.join(60)
    assert Absence.objects.count() == TRIES
    assert Visit.objects.count() == sum(won)
    for visit in Visit.objects.all():
        booked = LogEntry.objects.get(verb="booked", subject_id=visit.pk)
        absence = Absence.objects.within(visit.starts_at, visit.ends_at).get()
        entered = LogEntry.objects.get(verb="absence_entered", subject_id=absence.pk)
        # whoever was first stands: a visit in time away was there before, and is found there
        assert booked.pk < entered.pk
        assert visit in absence.visits()
