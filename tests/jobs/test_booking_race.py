"""Two processes book the same people at the same moments: one wins, one is told."""

import multiprocessing
from datetime import timedelta
from itertools import pairwise

import pytest
from django.db import connection

from jobs.models import FollowUp, OutboxMail, TechnicianSlot, Visit
from jobs.models.company import company_day
from tests.conftest import NOW
from tests.factories import make_follow_up, make_job, make_staff, make_train
from tests.jobs.booking_race import book_all, book_proposed

TRIES, BOOKINGS = 50, 200


@pytest.mark.django_db(transaction=True)
def test_one_of_two_processes_wins_each_time():
    make_staff("dispatcher", username="the-dispatcher")
    make_staff("technician", username="the-technician")
    make_job()
    starts = [NOW + timedelta(hours=number) for number in range(TRIES)]
    first, second = raced(book_all, [(starts,), (starts,)])
    assert [a + b for a, b in zip(first, second, strict=True)] == [1] * TRIES
    assert Visit.objects.count() == TRIES
    assert TechnicianSlot.objects.count() == TRIES * 4
    assert OutboxMail.objects.count() == TRIES


@pytest.mark.long
@pytest.mark.django_db(transaction=True)
def test_two_hundred_bookings_of_what_is_proposed_overlap_nowhere():
    make_staff("dispatcher", username="the-dispatcher")
    for _ in range(4):
        make_staff("technician")
    until = company_day(NOW) + timedelta(days=21)
    promises = [
        make_follow_up(train=make_train(), now=NOW, window_until=until).pk for _ in range(BOOKINGS)
    ]
    turns = [(promises[::2],), (promises[1::2],)]
    refused = sum(raced(book_proposed, turns, NOW))
    visits = list(Visit.objects.order_by("lead", "starts_at"))
    overlaps = [
        (one, other)
        for one, other in pairwise(visits)
        if one.lead_id == other.lead_id and other.starts_at < one.ends_at
    ]
    assert overlaps == []
    assert len(visits) == BOOKINGS
    assert FollowUp.objects.filter(status="booked", visit__isnull=False).count() == BOOKINGS
    assert refused > 0, "nobody met anybody: no race"


def raced(target, turns, *more):
    """What each of two processes answers that begin each step together."""
    kept = ("ENGINE", "NAME", "USER", "PASSWORD", "HOST", "PORT", "OPTIONS")
    database = {key: connection.settings_dict[key] for key in kept}
    context = multiprocessing.get_context("spawn")
    barrier, results = context.Barrier(2), context.Queue()
    racers = [
        context.Process(target=target, args=(database, *turn, barrier, results, *more))
        for turn in turns
    ]
    for racer in racers:
        racer.start()
    answers = [results.get(timeout=300) for _ in racers]
    for racer in racers:
        racer.join(30)
    return answers
