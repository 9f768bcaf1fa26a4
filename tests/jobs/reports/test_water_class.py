"""Which class of raw water a house is in: the report and its list of jobs always say the same."""

import random
from collections import Counter
from datetime import date

import pytest

from equipment.models import Measurement
from jobs.models import Job
from jobs.reports.callback_jobs import Selection, cells, looked_at
from jobs.reports.callbacks import Cell
from jobs.reports.water_classes import WATERS
from tests.factories import make_site, make_staff, make_train
from tests.jobs.random_company import noon

pytestmark = pytest.mark.django_db
HANDED_OVER, TODAY = date(2026, 1, 10), date(2026, 6, 10)
SELECTION = Selection(HANDED_OVER, HANDED_OVER, 90, TODAY)
#: figures at the limits and beside them come up often
SULFIDE = [None, 0, 0.5, 2.999999, 3, 3.000001, 6]
PH = [None, 5.5, 6.499999, 6.5, 6.500001, 7.2]


def in_words(sulfide, ph):
    """Sulfide above 3 mg/L, else pH below 6.5, else neither; untested where neither is known."""
    if sulfide is not None and sulfide > 3:
        return "sulfide above 3 mg/L"
    if ph is not None and ph < 6.5:
        return "pH below 6.5"
    return "raw water not tested" if sulfide is None and ph is None else "neither"


def handed_over(figures):
    """A finished start-up for each pair of figures, with its raw readings on file."""
    by = make_staff("technician")
    train = make_train()
    jobs = []
    for sulfide, ph in figures:
        site = make_site(with_holder=False)
        for key, value in (("sulfide", sulfide), ("ph", ph)):
            if value is not None:
                Measurement.objects.create(
                    site=site,
                    quantity_key=key,
                    place="raw",
                    value=value,
                    origin="measured",
                    measured_at=noon(HANDED_OVER),
                    recorded_at=noon(HANDED_OVER),
                    recorded_by=by,
                )
        jobs.append(
            Job(
                site=site,
                train=train,
                kind="startup",
                status="completed",
                completed_at=noon(HANDED_OVER),
                index_on=HANDED_OVER,
                reported_on=HANDED_OVER,
                installer=by,
                opened_by=by,
                opened_at=noon(HANDED_OVER),
            )
        )
    return Job.objects.bulk_create(jobs)


def test_list_and_count_name_the_class_that_the_figures_give():
    dice = random.Random(20260110)
    drawn = [(dice.uniform(0, 6), dice.uniform(5, 8)) for _ in range(60)]
    figures = [(sulfide, ph) for sulfide in SULFIDE for ph in PH] + drawn
    jobs = handed_over(figures)
    wanted = {job.pk: in_words(*pair) for job, pair in zip(jobs, figures, strict=True)}
    listed = {row.pk: WATERS[row.water] for row in looked_at(SELECTION)}
    assert listed == wanted
    counted = Counter()
    for row in cells(SELECTION):
        cell = Cell(*row)
        counted[WATERS[cell.water]] += cell.jobs
    assert counted == Counter(wanted.values())
    assert set(counted) == set(WATERS.values())
