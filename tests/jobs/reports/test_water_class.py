"""Which class of raw water a house is in on the day its water is handed over, and stays in."""

import random
from collections import Counter
from datetime import date, timedelta

import pytest

from jobs.models import HandoverFact
from jobs.models.facts import work_of
from jobs.reports.callback_jobs import Selection, cells, looked_at
from jobs.reports.water_classes import WATERS
from jobs.workflows.measurements import Reading, record_measurement
from tests.acts import worked
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


def read(site, figure, value, *, day=HANDED_OVER, told=None, corrects=None):
    return record_measurement(
        about=site,
        reading=Reading(figure, f"{value:.6f}", origin="measured", place="raw"),
        measured_at=noon(day) - timedelta(hours=4),
        corrects=corrects,
        by=make_staff("dispatcher"),
        now=noon(told or day) - timedelta(hours=4),
    )


def handed_over(figures):
    """Work for each pair of figures, with its raw readings on file that morning."""
    lead = make_staff("technician")
    jobs = []
    for number, pair in enumerate(figures):
        site = make_site(with_holder=False)
        for figure, value in zip(("sulfide", "ph"), pair, strict=True):
            if value is not None:
                read(site, figure, value)
        at = noon(HANDED_OVER) + timedelta(hours=number)
        train = make_train(site=site)
        jobs.append(worked(train, lead, at=at))
    return jobs


def test_list_and_count_name_the_class_that_the_figures_give(monkeypatch):
    dice = random.Random(20260110)
    drawn = [(dice.uniform(0, 6), dice.uniform(5, 8)) for _ in range(6)]
    figures = [(sulfide, ph) for sulfide in SULFIDE for ph in PH] + drawn
    period = Selection(HANDED_OVER, HANDED_OVER + timedelta(days=4), 90, TODAY)
    jobs = handed_over(figures)
    wanted = {
        job.pk: in_words(*(v if v is None else round(v, 6) for v in pair))
        for job, pair in zip(jobs, figures, strict=True)
    }
    listed = {row.pk: WATERS[work_of(row.work)[1]] for row in looked_at(period)}
    assert listed == wanted
    counted = Counter()
    for cell in cells(period):
        counted[WATERS[cell.water]] += cell.jobs
    assert counted == Counter(wanted.values())
    assert set(counted) == set(WATERS.values())


def test_older_than_three_years_counts_as_untested():
    train = make_train()
    read(train.site, "sulfide", 6, day=HANDED_OVER - timedelta(days=3 * 365 + 1))
    job = worked(train, make_staff("technician"), at=noon(HANDED_OVER))
    assert HandoverFact.objects.get(job=job).water == "untested"
    assert [row.work for row in looked_at(SELECTION)] == [2 * 4 + 3]
