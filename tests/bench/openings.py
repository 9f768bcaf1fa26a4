"""What is proposed: how often in the order of plain counting, and how soon in a full company."""

import random
from datetime import UTC, datetime, timedelta

from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from jobs.models import Company, Visit, WorkNeed
from jobs.models.company import company_day
from jobs.schedule.free_times import at_hour
from jobs.schedule.openings import Ask, ranked
from tests.factories import make_job, make_site, make_staff, make_train, some_user
from tests.random_openings import compared

from .clock import head, line, median_seconds

NOW = datetime(2026, 6, 10, 12, tzinfo=UTC)
PEOPLE, WEEKS, VISITS_A_DAY, TOWNS = 12, 6, 5, 10


def show(asked):
    head("openings")
    same, choices = 0, 0
    for seed in range(asked.openings):
        found, counted = compared(seed)
        same += found == counted
        choices += len(counted) > 2
    line("in the order of plain counting", f"{same} of {asked.openings}", "all")
    line("of these with more than two to choose from", f"{choices}")
    with transaction.atomic():
        _time(asked.rounds)
        transaction.set_rollback(True)


def _time(rounds):
    people, train = _full_company()
    first = company_day(NOW)
    window = (first, first + timedelta(weeks=WEEKS))
    company = Company.load()
    for kind, what in (("service", "one person"), ("install", "two people")):
        ask = Ask(train.site, kind, 60, first, window, train)

        def propose(ask=ask):
            return ranked(ask, people, now=NOW, company=company)

        with CaptureQueriesContext(connection) as queries:
            found = propose()
        seconds = median_seconds(propose, rounds)
        line(
            f"{PEOPLE} people, {WEEKS} weeks, work of {what}: {len(found)} openings",
            f"{1000 * seconds:.0f} ms, {len(queries)} queries",
            "< 200 ms" if kind == "service" else "",
        )


def _full_company():
    """Everybody has five visits of an hour on each working day, an hour and a half apart."""
    roll, by = random.Random(7), some_user()
    Company(pk=1, town="Town 0").save()
    WorkNeed.objects.create(kind="install", people=2)
    people = [make_staff("technician") for _ in range(PEOPLE)]
    trains = [
        make_train(site=make_site(town=f"Town {n % TOWNS}", with_holder=False)) for n in range(60)
    ]
    jobs = [make_job(train=train, now=NOW) for train in trains]
    visits = []
    for number in range(7 * WEEKS + 1):
        day = company_day(NOW) + timedelta(days=number)
        for person in people if day.weekday() < 5 else ():
            for place in range(VISITS_A_DAY):
                at = at_hour(day, 7) + place * timedelta(minutes=105)
                visits.append(
                    Visit(
                        job=roll.choice(jobs),
                        lead=person,
                        starts_at=at,
                        ends_at=at + timedelta(hours=1),
                        arrive_from=at,
                        arrive_until=at + timedelta(hours=1),
                        status="confirmed",
                        booked_at=NOW,
                        booked_by=by,
                    )
                )
    Visit.objects.bulk_create(visits)
    return people, make_train(site=make_site(town="Town 3", with_holder=False))
