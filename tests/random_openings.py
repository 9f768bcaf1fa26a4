"""A small company at random, for what is proposed: people, hours, visits, towns, one request."""

import random
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from django.db import transaction

from jobs.models import (
    Absence,
    Company,
    CompanyDay,
    LaboratoryDay,
    Skill,
    StaffProfile,
    WorkHours,
    WorkNeed,
)
from jobs.schedule.openings import Ask, ranked
from jobs.workflows.driving import keep_drive
from tests.factories import make_job, make_site, make_staff, make_train, make_visit
from tests.openings_by_count import by_count, wall

DAY, QUARTER = timedelta(days=1), timedelta(minutes=15)
TOWNS = ("Marl", "Tarn", "Lapwick", "Otter")
#: days on which something is different: clocks that change, holidays, the turn of a year
DAYS = [date(2026, 3, 6), date(2026, 10, 30), date(2026, 7, 2), date(2026, 12, 23)]
LICENCE = "Wells and well pumps"


@dataclass
class Case:
    ask: Ask
    people: list
    now: datetime


def compared(seed):
    """What the product proposes for that company, and what plain counting does; no row stays."""
    with transaction.atomic():
        case = case_of(seed)
        counted = by_count(case.ask, case.people, case.now)
        rows = ranked(case.ask, case.people, now=case.now, company=Company.load())
        transaction.set_rollback(True)
    found = [
        (
            row.person.pk,
            row.starts_at.astimezone(UTC),
            row.helper.pk if row.helper else None,
            row.cost,
        )
        for row in rows
    ]
    return found, counted


def case_of(seed):
    """The same rows for the same seed; nothing else may stand in the database."""
    roll = random.Random(seed)
    office = make_staff("dispatcher")
    today = roll.choice([*DAYS, date(2026, 6, 8) + roll.randrange(60) * DAY])
    now = wall(today, time(roll.randrange(24), roll.randrange(60)))
    _company(roll, today, office, now)
    names = [roll.choice(["Alder", "Birch", "Sedge"]) for _ in range(roll.randint(1, 4))]
    people = [make_staff("technician", last_name=name) for name in names]
    houses = [
        make_train(site=make_site(town=roll.choice(TOWNS), with_holder=False)) for _ in range(6)
    ]
    for person in people:
        _person(roll, person, today)
    _visits(roll, people, houses, today)
    train = roll.choice(houses)
    if roll.random() < 0.3:
        train.installed_by = roll.choice(people)
        train.save()
    kind = roll.choice(["service", "disinfect", "install", "rebed", "sample"])
    first = today + roll.randint(-20, 4) * DAY
    window = (first, first + roll.randint(0, 9) * DAY)
    ask = Ask(
        train.site,
        kind,
        roll.choice([30, 45, 60, 75, 90, 210, 270]),
        first + roll.randint(0, 9) * DAY,
        window,
        train if roll.random() < 0.7 else None,
        did_it=roll.choice([None, *people]),
        not_before=roll.choice([None, None, first + roll.randrange(9) * DAY]),
    )
    return Case(ask, people, now.astimezone(UTC))


def _company(roll, today, office, now):
    lunch = roll.choice([(time(12), time(12, 30)), (time(11, 45), time(12, 45)), (None, None)])
    Company(
        pk=1,
        town=roll.choice(["", *TOWNS]),
        lunch_from=lunch[0],
        lunch_until=lunch[1],
        work_from_hour=roll.choice([6, 7, 8]),
        work_until_hour=roll.choice([15, 17, 24]),
        drive_min=roll.choice([20, 45]),
        drive_in_town_min=roll.choice([5, 10]),
        laboratory_weekdays=roll.choice(["01234", "0123", "13", ""]),
        laboratory_from=time(roll.choice([7, 10])),
        laboratory_until=time(roll.choice([12, 16])),
        laboratory_drive_min=roll.choice([20, 90]),
    ).save()
    for _ in range(roll.randrange(5)):
        one, other = roll.choice(TOWNS), roll.choice(TOWNS)
        keep_drive(one=one, other=other, minutes=roll.randint(1, 70), by=office, now=now)
    for _ in range(roll.randrange(3)):
        day = today + roll.randrange(10) * DAY
        worked = roll.random() < 0.5
        CompanyDay.objects.get_or_create(day=day, defaults={"name": "A day", "is_worked": worked})
    for _ in range(roll.randrange(3)):
        day = today + roll.randrange(9) * DAY
        kept = {"name": "Shut", "entered_by": office, "entered_at": now}
        LaboratoryDay.objects.get_or_create(day=day, defaults=kept)
    WorkNeed.objects.create(kind="disinfect", licence=LICENCE)
    WorkNeed.objects.create(kind="install", licence=roll.choice(["", LICENCE]), people=2)


def _person(roll, person, today):
    if roll.random() < 0.4:
        weekday, off = roll.randrange(7), roll.random() < 0.4
        WorkHours.objects.create(
            person=person,
            weekday=weekday,
            works_from=None if off else time(roll.choice([6, 9]), roll.choice([0, 10])),
            works_until=None if off else time(roll.choice([13, 18]), roll.choice([0, 25])),
        )
    if roll.random() < 0.3:
        row = StaffProfile.objects.get(user=person)
        row.lunch_from, row.lunch_until = time(11, 10), time(11, 55)
        row.save()
        person.profile = row
    if roll.random() < 0.5:
        ends = roll.choice([None, today + roll.randint(-2, 8) * DAY])
        out = roll.choice([None, None, None, today])
        Skill.objects.create(person=person, name=LICENCE.upper(), expires_on=ends, withdrawn_on=out)
    if roll.random() < 0.4:
        begins = wall(today + roll.randint(-1, 6) * DAY, time(roll.choice([0, 10]), 0))
        Absence.objects.create(
            person=person,
            kind="leave",
            starts_at=begins,
            ends_at=begins + timedelta(hours=roll.choice([3, 24, 72])),
            entered_at=begins,
            entered_by=person,
        )


def _visits(roll, people, houses, today):
    taken = set()
    for _ in range(roll.randrange(30)):
        lead, helper = roll.choice(people), roll.choice([None, None, *people])
        helper = None if helper == lead else helper
        begins = wall(today + roll.randint(-30, 9) * DAY, time(roll.randint(6, 16), 0))
        begins += roll.randrange(4) * QUARTER
        ends = begins + timedelta(minutes=roll.choice([30, 50, 75, 150]))
        asked, at = set(), begins
        while at < ends:
            asked |= {(who.pk, at) for who in (lead, helper) if who}
            at += QUARTER
        if asked & taken:
            continue
        taken |= asked
        train, kind = roll.choice(houses), roll.choice(["service", "startup"])
        over = begins < wall(today, 0)
        if not over and roll.random() < 0.2:
            train = houses[0]
        outcome = {"outcome": roll.choice(["completed", "no_access"])} if over else {}
        job = make_job(train=train, kind=kind)
        make_visit(job=job, lead=lead, helper=helper, starts_at=begins, ends_at=ends, **outcome)
