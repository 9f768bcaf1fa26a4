"""The owner's answer against scipy, statsmodels, numpy and lifelines."""

import math
import random
import warnings

import pytest

from jobs.reports.fair_course import CALLED, LOST, OPEN, Ending, course_of
from jobs.reports.fair_exact import (
    NODES,
    binomial,
    distribution,
    gauss_hermite,
    hypergeometric,
    of_sum,
    tail_of,
    tails,
)
from jobs.reports.fair_limits import count_limits, odds_limits, odds_ratio
from jobs.reports.fair_table import Class, matched
from tests.jobs.reports.fair_tables import F3, STONES, rabbits, table

pytestmark = pytest.mark.second_reference

TOTALS = [(100, 9, 40), (60, 55, 30), (1390, 120, 115), (16_000, 900, 1400), (12, 0, 5), (9, 9, 4)]


@pytest.mark.parametrize(("all_jobs", "called", "own"), TOTALS)
@pytest.mark.parametrize("log_odds", [0.0, 1.7, -1.1])
def test_hypergeometric(all_jobs, called, own, log_odds):
    from scipy.stats import nchypergeom_fisher

    ours = hypergeometric(all_jobs=all_jobs, all_called=called, own_jobs=own, log_odds=log_odds)
    theirs = nchypergeom_fisher(all_jobs, called, own, math.exp(log_odds))
    for j, share in enumerate(ours.shares):
        assert share == pytest.approx(theirs.pmf(ours.low + j), rel=1e-8, abs=1e-15)
    assert math.fsum(ours.shares) == pytest.approx(1.0, abs=1e-14)


@pytest.mark.parametrize(("jobs", "share"), [(40, 0.06), (1400, 0.18), (5, 0.999), (30, 0.5)])
def test_binomial(jobs, share):
    from scipy.stats import binom

    ours = binomial(jobs, share)
    for j, each in enumerate(ours.shares):
        assert each == pytest.approx(binom.pmf(ours.low + j, jobs, share), rel=1e-9, abs=1e-15)


def test_sum_of_many_counts():
    import numpy as np

    parts = [hypergeometric(all_jobs=200 + k, all_called=12 + k, own_jobs=50) for k in range(12)]
    theirs = np.array([1.0])
    for part in parts:
        theirs = np.convolve(theirs, part.shares)
    low, ours = sum(part.low for part in parts), of_sum(parts)
    for j, share in enumerate(ours.shares):
        assert share == pytest.approx(theirs[ours.low - low + j], rel=1e-9, abs=1e-18)


def test_one_class_is_fishers():
    from scipy.stats import contingency, fisher_exact

    classes, cells = [Class(40, 6, 60, 3)], [[6, 34], [3, 57]]
    theirs = fisher_exact(cells, alternative="greater").pvalue
    assert tail_of(classes, 0.0, 6) == pytest.approx(theirs, rel=1e-10)
    found = contingency.odds_ratio(cells, kind="conditional")
    interval = found.confidence_interval(0.95)
    assert odds_ratio(classes) == pytest.approx(found.statistic, rel=1e-7)
    assert odds_limits(classes, own=1.0) == pytest.approx((interval.low, interval.high), rel=1e-6)


def test_stratified_against_dealing_again():
    """Half a million random deals of the callbacks within classes."""
    import numpy as np

    person = matched(table(F3))[0]
    drawn = np.random.default_rng(3)
    total = sum(
        drawn.hypergeometric(
            each.called + each.others_called,
            each.jobs + each.others_jobs - each.called - each.others_called,
            each.jobs,
            500_000,
        )
        for each in person.classes
    )
    for count in (3, 6, 8, 9):
        share = float(np.mean(total >= count))
        assert tail_of(person.classes, 0.0, count) == pytest.approx(share, abs=0.003)


@pytest.mark.parametrize("classes", [rabbits(), list(matched(table(STONES))[0].classes)])
def test_common_odds_ratio_is_near_that_of_mantel_and_haenszel(classes):
    """A cruder estimate: 0.691 against 0.700 for the kidney stones."""
    import numpy as np
    from statsmodels.stats.contingency_tables import StratifiedTable

    cells = [
        np.array(
            [
                [each.called, each.jobs - each.called],
                [each.others_called, each.others_jobs - each.others_called],
            ]
        )
        for each in classes
    ]
    theirs = StratifiedTable(cells).oddsratio_pooled
    assert odds_ratio(classes) == pytest.approx(theirs, rel=0.6 if theirs > 2 else 0.02)


def test_nodes_and_weights():
    import numpy as np

    for points in (2, 7, 15):
        theirs = np.polynomial.hermite.hermgauss(points)
        ours = gauss_hermite(points)
        assert [node for node, _ in ours] == pytest.approx(list(theirs[0]), abs=1e-13)
        shares = list(theirs[1] / theirs[1].sum())
        assert [weight for _, weight in ours] == pytest.approx(shares, rel=1e-11)
    assert len(NODES) == 15


@pytest.mark.parametrize("spread", [0.2, 0.35, 0.8])
def test_everyday_spread_against_a_fine_integral(spread):
    from scipy.integrate import quad
    from scipy.stats import norm

    person = matched(table(F3))[0]
    for count in (6, 10, 14):
        theirs, _ = quad(
            lambda z, n=count: norm.pdf(z) * distribution(person.classes, spread * z).tail(n),
            -8,
            8,
            epsabs=1e-11,
        )
        assert tails(person.classes, spread).at(count) == pytest.approx(theirs, rel=2e-3)


@pytest.mark.parametrize("count", [0, 1, 4, 14, 200])
def test_mid_p_limits_of_a_count(count):
    from statsmodels.stats.rates import confint_poisson

    if count:
        theirs = confint_poisson(count, 1, method="midp-c", alpha=0.05)
        assert count_limits(count) == pytest.approx(theirs, rel=1e-6)
    else:
        assert count_limits(0) == (0.0, pytest.approx(-math.log(0.05)))


def people_followed(ties):
    drawn = random.Random(5)
    days = [drawn.randint(1, 90) for _ in range(60)] if ties else drawn.sample(range(1, 400), 60)
    return days, [drawn.choice([CALLED, LOST, OPEN]) for _ in days]


def test_share_called_back_with_loss_of_its_own():
    """On days that differ; ties are moved apart at random there."""
    from lifelines import AalenJohansenFitter

    days, how = people_followed(ties=False)
    codes = {CALLED: 1, LOST: 2, OPEN: 0}
    course = course_of(Ending(day, end) for day, end in zip(days, how, strict=True))
    for ending, ours in ((1, "called"), (2, "lost")):
        theirs = AalenJohansenFitter().fit(days, [codes[end] for end in how], ending)
        column = theirs.cumulative_density_.iloc[:, 0]
        for step in course.steps:
            assert getattr(step, ours) == pytest.approx(column.loc[step.day], abs=1e-13)
    theirs = AalenJohansenFitter().fit(days, [codes[end] for end in how], 1)
    for step in course.steps[:-1]:  # with the last one nobody is left, and theirs is no number
        assert step.error**2 == pytest.approx(theirs.variance_.loc[step.day], abs=1e-13)
        low, high = theirs.confidence_interval_.loc[step.day]
        if step.called:
            assert (step.low, step.high) == pytest.approx((low, high), abs=1e-9)


def test_ties_agree_with_kaplan_and_meier():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from lifelines import KaplanMeierFitter

        days, how = people_followed(ties=True)
        theirs = KaplanMeierFitter().fit(days, [end == CALLED for end in how])
    for step in course_of(Ending(*each) for each in zip(days, how, strict=True)).steps:
        survival = theirs.survival_function_.loc[step.day].iloc[0]
        assert 1 - step.had_nobody_left == pytest.approx(survival, abs=1e-12)
