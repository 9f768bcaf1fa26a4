"""Two processes book one technician for the same hour, fifty times: one wins, one is told."""

import multiprocessing
from datetime import timedelta

import pytest
from django.db import connection

from jobs.models import OutboxMail, TechnicianSlot, Visit
from tests.conftest import NOW
from tests.factories import make_job, make_staff
from tests.jobs.booking_race import book_all

TRIES = 50


@pytest.mark.django_db(transaction=True)
def test_one_of_two_processes_wins_each_time():
    make_staff("dispatcher", username="the-dispatcher")
    make_staff("technician", username="the-technician")
    make_job()
    starts = [NOW + timedelta(hours=number) for number in range(TRIES)]
    kept = ("ENGINE", "NAME", "USER", "PASSWORD", "HOST", "PORT", "OPTIONS")
    database = {key: connection.settings_dict[key] for key in kept}
    context = multiprocessing.get_context("spawn")
    barrier, results = context.Barrier(2), context.Queue()
    racers = [
        context.Process(target=book_all, args=(database, starts, barrier, results))
        for _ in range(2)
    ]
    for racer in racers:
        racer.start()
    first, second = results.get(timeout=120), results.get(timeout=120)
    for racer in racers:
        racer.join(30)
    assert [a + b for a, b in zip(first, second, strict=True)] == [1] * TRIES
    assert Visit.objects.count() == TRIES
    assert TechnicianSlot.objects.count() == TRIES * 4
    assert OutboxMail.objects.count() == TRIES
