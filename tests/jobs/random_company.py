"""A company with an invented past, different for each seed, to count again by hand."""

import random
from datetime import date, timedelta

from equipment.models import Stage
from jobs.models import Job, SiteTenure
from jobs.models.visits import day_start
from tests.factories import (
    make_customer,
    make_measurement,
    make_site,
    make_staff,
    make_stage,
    make_train,
)

TODAY = date(2026, 6, 10)
BEGIN = date(2025, 1, 1)
STAGES = [("feeder", "retention", "filter"), ("filter",), ("softener",), ("uv",), ()]


def noon(day):
    return day_start(day) + timedelta(hours=12)


def build_company(seed, sites=14, jobs=60):
    dice = random.Random(seed)
    people = [
        make_staff("technician", last_name=name, first_name=first)
        for name, first in [("Quill", "Ada"), ("abbot", "Ben"), ("Marsh", "Cy"), ("", "Dov")]
    ]
    trains = [_house(dice, people[0]) for _ in range(sites)]
    made = [_index_job(dice, dice.choice(trains), dice.choice(people)) for _ in range(jobs)]
    for origin in made:
        for _ in range(dice.choice([0, 0, 0, 1, 1, 2])):
            _callback(dice, origin, people[0])
        if dice.random() < 0.2:
            _planned(dice, origin, people[0])
    return people


def _house(dice, by):
    site = make_site()
    if dice.random() < 0.3:
        sold = BEGIN + timedelta(days=dice.randrange(40, 540))
        SiteTenure.objects.filter(site=site).update(until_on=sold)
        if dice.random() < 0.5:
            SiteTenure.objects.create(site=site, customer=make_customer(), from_on=sold)
    train = make_train(site=site, is_inherited=dice.random() < 0.1)
    if dice.random() < 0.2:
        train.removed_on = BEGIN + timedelta(days=dice.randrange(40, 540))
        train.save()
    for position, kind in enumerate(dice.choice(STAGES), 1):
        fitted = BEGIN + timedelta(days=dice.randrange(-100, 200))
        gone = fitted + timedelta(days=dice.randrange(1, 300)) if dice.random() < 0.3 else None
        make_stage(
            train=train, kind=Stage.Kind(kind), position=position, fitted_on=fitted, removed_on=gone
        )
    for key, values in (("sulfide", [0, 2.9, 3, 3.1, 6]), ("ph", [5.8, 6.4, 6.5, 7.2])):
        earlier = None
        for _ in range(dice.choice([0, 1, 2])):
            day = BEGIN + timedelta(days=dice.randrange(-30, 400))
            earlier = make_measurement(
                site=site,
                quantity_key=key,
                value=dice.choice(values),
                by=by,
                place=dice.choice(["raw", "raw", "tap"]),
                measured_at=noon(day),
                corrects=earlier if dice.random() < 0.3 else None,
            )
    return train


def _job(train, by, **fields):
    return Job.objects.create(
        site=train.site, train=train, opened_by=by, opened_at=noon(fields["reported_on"]), **fields
    )


def _index_job(dice, train, installer):
    day = BEGIN + timedelta(days=dice.randrange(0, 520))
    status = dice.choice(["completed"] * 8 + ["open", "cancelled"])
    return _job(
        train,
        installer,
        reported_on=day,
        status=status,
        installer=installer,
        kind=dice.choice(["startup", "service", "repair", "rebed", "refill"]),
        index_on=day,
        completed_at=noon(day) if status == "completed" else None,
    )


def _callback(dice, origin, by):
    day = origin.index_on + timedelta(
        days=dice.choice([0, 5, 29, 30, 31, 60, 90, 91, 200, 365, 366])
    )
    answer = dice.choice(["yes"] * 5 + ["not_sure"])
    status = dice.choice(["completed"] * 5 + ["open", "cancelled"])
    _job(
        origin.train,
        by,
        reported_on=day,
        status=status,
        origin=origin,
        callback_answer=answer,
        kind=dice.choice(["callback", "repair"]),
        planned=dice.random() < 0.1,
        completed_at=noon(day) if status == "completed" else None,
        index_on=day if dice.random() < 0.5 else None,
        installer=by,
        cause=dice.choice([*Job.Cause.values, "B_low", "B_low", ""]),
        recheck_missed=dice.random() < 0.4,
    )


def _planned(dice, origin, by):
    day = origin.index_on + timedelta(days=dice.choice([0, 14, 30, 31, 90, 91]))
    _job(
        origin.train,
        by,
        reported_on=origin.index_on,
        status="completed",
        completed_at=noon(day),
        kind=dice.choice(["recheck", "interval", "service"]),
        planned=True,
        defect_found=dice.random() < 0.7,
        index_on=day,
        installer=by,
    )
