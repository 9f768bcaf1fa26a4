"""The owner's statistics against scipy, statsmodels and lifelines."""

import warnings

import pytest

from equipment.engineering.units import quantity
from jobs.reports.limits import binomial_cdf, poisson_limits, wilson_limits
from jobs.reports.statistics import FollowUpTime, survival

pytestmark = pytest.mark.second_reference

SHARES = [(0, 5), (0, 20), (1, 12), (3, 40), (5, 60), (29, 29), (81, 263), (15, 148), (900, 1000)]
TIMES = [9, 14, 14, 21, 30, 33, 45, 60, 60, 75, 90, 90, 5, 5, 5, 40]
CALLBACKS = [1, 0, 1, 0, 0, 1, 0, 0, 0, 0, 0, 0, 1, 1, 0, 1]


@pytest.mark.parametrize(("count", "jobs"), SHARES)
@pytest.mark.parametrize("confidence", [0.9, 0.95, 0.998])
def test_wilson(count, jobs, confidence):
    from scipy.stats import binomtest
    from statsmodels.stats.proportion import proportion_confint

    ours = wilson_limits(count, jobs, confidence)
    scipy = binomtest(count, jobs).proportion_ci(confidence, method="wilson")
    assert ours == pytest.approx((scipy.low, scipy.high), abs=1e-9)
    assert ours == pytest.approx(
        proportion_confint(count, jobs, 1 - confidence, method="wilson"), abs=1e-9
    )


@pytest.mark.parametrize("count", [0, 1, 2, 3, 5, 10, 20, 100, 1208, 50_000])
@pytest.mark.parametrize("confidence", [0.9, 0.95, 0.998])
def test_exact_poisson(count, confidence):
    from scipy.stats import chi2

    tail = (1 - confidence) / 2
    low = chi2.ppf(tail, 2 * count) / 2 if count else 0
    high = chi2.isf(tail, 2 * count + 2) / 2
    assert poisson_limits(count, confidence) == pytest.approx((low, high), rel=1e-9)


@pytest.mark.parametrize(("count", "jobs"), [(0, 20), (3, 20), (19, 20), (6, 100), (600, 10_000)])
@pytest.mark.parametrize("theta", [0.01, 0.06, 0.5, 0.95])
def test_binomial(count, jobs, theta):
    from scipy.stats import binom

    assert binomial_cdf(count, jobs, theta) == pytest.approx(
        binom.cdf(count, jobs, theta), rel=1e-9, abs=1e-14
    )


def curve(at, kind):
    jobs = [FollowUpTime(t, bool(c)) for t, c in zip(TIMES, CALLBACKS, strict=True)]
    return survival(follow_up=jobs, at=quantity(at, "day"), limits=kind)


@pytest.mark.parametrize("at", [5, 9, 20, 33, 50, 90])
def test_curve_and_greenwood(at):
    from statsmodels.duration.survfunc import SurvfuncRight

    theirs = SurvfuncRight(TIMES, CALLBACKS)
    place = sum(time <= at for time in theirs.surv_times) - 1
    ours = curve(at, "log")
    assert ours.survival == pytest.approx(theirs.surv_prob[place], abs=1e-12)
    assert ours.standard_error == pytest.approx(theirs.surv_prob_se[place], abs=1e-12)


@pytest.mark.parametrize("at", [5, 9, 20, 33, 50, 90])
def test_log_log_limits(at):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from lifelines import KaplanMeierFitter

        theirs = KaplanMeierFitter(alpha=0.05).fit(TIMES, CALLBACKS)
    row = theirs.confidence_interval_.loc[:at].iloc[-1]
    ours = curve(at, "log-log")
    assert (ours.low, ours.high) == pytest.approx((row.iloc[0], row.iloc[1]), abs=1e-9)
