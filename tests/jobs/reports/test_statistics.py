"""The owner's statistics. Printed values: statistics.csv and binomial_limits.csv."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.engineering.errors import EngineeringError, MissingInput, OutOfRange, WrongInput
from equipment.engineering.registry import compute
from equipment.engineering.units import quantity
from jobs.reports.limits import binomial_cdf, poisson_cdf, poisson_limits, wilson_limits
from jobs.reports.statistics import (
    FollowUpTime,
    callback_rate,
    funnel_limits,
    observed_expected,
    read_follow_up,
    register_statistics,
    survival,
)
from tests.equipment.engineering.published_rows import table_rows

#: the 21 patients of Freireich 1963, 6-MP arm
ARM = (
    "6:1 6:1 6:1 6:0 7:1 9:0 10:1 10:0 11:0 13:1 16:1 17:0 19:0 20:0 22:1 23:1"
    " 25:0 32:0 32:0 34:0 35:0"
)
STEADY = settings(max_examples=30, deadline=None, derandomize=True)


def day(number):
    return quantity(number, "day")


def followed(*texts):
    return [read_follow_up("follow_up", text) for text in texts]


@pytest.mark.parametrize("row", table_rows("binomial_limits"), ids=lambda row: row["id"])
def test_binomial_tail_at_a_published_exact_limit(row):
    """Within half a printed digit of the exact limit the tail beyond the count is 0.025."""
    count, jobs, printed = int(row["count"]), int(row["jobs"]), float(row["published"])
    if printed == 0:
        assert count == 0
        assert binomial_cdf(0, jobs, 1e-9) == pytest.approx(1)
        return

    def tail(share):
        below = binomial_cdf(count - 1, jobs, share)
        return 1 - below if row["bound"] == "lo" else binomial_cdf(count, jobs, share)

    around = sorted((tail(printed - 0.00005), tail(printed + 0.00005)))
    assert around[0] <= 0.025 <= around[1]


def test_no_callback_has_lower_limit_nought_and_all_has_upper_limit_one():
    assert wilson_limits(0, 20, 0.95)[0] == 0
    assert wilson_limits(29, 29, 0.95)[1] == 1


def test_the_half_width_goes_around_the_centre_and_not_around_the_rate():
    """81 of 263 prints 0.2553 to 0.3662 (Newcombe 1998): its middle is not the rate."""
    ours = callback_rate(callbacks=81, jobs=263)
    assert ours.rate == pytest.approx(81 / 263)
    assert (ours.low + ours.high) / 2 > ours.rate + 0.002


@pytest.mark.parametrize(
    ("keys", "refusal", "key"),
    [
        ({"callbacks": 3, "jobs": 0}, OutOfRange, "jobs"),
        ({"callbacks": 6, "jobs": 5}, OutOfRange, "callbacks"),
        ({"callbacks": 1.5, "jobs": 5}, WrongInput, "callbacks"),
        ({"callbacks": 1, "jobs": 5, "confidence": 95}, OutOfRange, "confidence"),
    ],
)
def test_rate_refusals_name_the_key(keys, refusal, key):
    with pytest.raises(refusal) as caught:
        callback_rate(**keys)
    assert caught.value.key == key


def test_few_jobs_are_said():
    assert callback_rate(callbacks=1, jobs=9).warnings
    assert not callback_rate(callbacks=1, jobs=10).warnings


def test_confidence_is_typed_as_a_share():
    with pytest.raises(EngineeringError, match="confidence"):
        compute("callback-rate", callbacks="3", jobs="40", confidence="95 percent")


@STEADY
@given(st.integers(0, 500), st.integers(1, 500))
def test_limits_hold_the_rate_and_mirror(callbacks, more):
    jobs = callbacks + more
    low, high = wilson_limits(callbacks, jobs, 0.95)
    assert 0 <= low <= callbacks / jobs <= high <= 1
    other = wilson_limits(jobs - callbacks, jobs, 0.95)
    assert (1 - other[1], 1 - other[0]) == (pytest.approx(low, abs=1e-12), pytest.approx(high))


def test_crude_rates_mislead_where_the_ratio_does_not():
    """9/90, 1/20, 0/10 against 2/10, 3/150, 1/40 at company rates 0.09, 0.02, 0.03."""
    hard = observed_expected(observed=10, expected=90 * 0.09 + 20 * 0.02 + 10 * 0.03)
    easy = observed_expected(observed=6, expected=10 * 0.09 + 150 * 0.02 + 40 * 0.03)
    assert (hard.ratio, easy.ratio) == (
        pytest.approx(1.14, abs=0.01),
        pytest.approx(1.18, abs=0.01),
    )
    assert hard.low < 1 < hard.high


def test_no_callback_observed():
    """Upper limit of a count of 0 at 95 percent: -ln 0.025 = 3.689."""
    ours = observed_expected(observed=0, expected=2)
    assert (ours.low, ours.high) == (0, pytest.approx(-math.log(0.025) / 2))


def test_less_than_one_expected_is_said():
    assert observed_expected(observed=1, expected=0.9).warnings
    assert not observed_expected(observed=1, expected=1).warnings


def test_ratio_refusals_name_the_key():
    with pytest.raises(OutOfRange, match="expected"):
        observed_expected(observed=1, expected=0)
    with pytest.raises(WrongInput, match="observed"):
        observed_expected(observed=1.5, expected=2)


@STEADY
@given(st.integers(0, 3000), st.floats(0.5, 0.999))
def test_poisson_limits_leave_the_tails_they_should(count, confidence):
    low, high = poisson_limits(count, confidence)
    tail = (1 - confidence) / 2
    assert poisson_cdf(count, high) == pytest.approx(tail, rel=1e-6)
    if count:
        assert 1 - poisson_cdf(count - 1, low) == pytest.approx(tail, rel=1e-6)


def test_exact_funnel_is_wider_than_normal_for_small_rates():
    """theta 6 percent, 20 jobs, upper 99.8 percent: 24.9 against 22.4 (hand arithmetic)."""
    exact = funnel_limits(rate=0.06, jobs=20, tail=0.001)
    normal = funnel_limits(rate=0.06, jobs=20, tail=0.001, method="normal")
    assert (exact.high, normal.high) == (
        pytest.approx(0.249, abs=5e-4),
        pytest.approx(0.224, abs=5e-4),
    )
    assert normal.warnings


@pytest.mark.parametrize(
    ("keys", "key"),
    [
        ({"rate": 0}, "rate"),
        ({"rate": 6}, "rate"),
        ({"tail": 0.5}, "tail"),
        ({"jobs": 0}, "jobs"),
        ({"method": "guess"}, "method"),
    ],
)
def test_funnel_refusals_name_the_key(keys, key):
    with pytest.raises(EngineeringError) as caught:
        funnel_limits(**{"rate": 0.06, "jobs": 20, "tail": 0.025, **keys})
    assert caught.value.key == key


@STEADY
@given(st.floats(0.01, 0.9), st.integers(1, 2000))
def test_funnel_holds_the_rate_and_is_wider_further_out(rate, jobs):
    inner = funnel_limits(rate=rate, jobs=jobs, tail=0.025)
    outer = funnel_limits(rate=rate, jobs=jobs, tail=0.001)
    assert 0 <= outer.low <= inner.low <= inner.high <= outer.high <= 1


def test_curve_counts_jobs_censored_the_same_day_as_followed():
    ours = survival(follow_up=followed("10:0", "10:1", "20:0"), at=day(10))
    assert ours.survival == pytest.approx(2 / 3)
    assert ours.at_risk == 1


@pytest.mark.parametrize(("beyond", "told"), [(4, True), (5, False)])
def test_fewer_than_five_jobs_left_are_said(beyond, told):
    ours = survival(follow_up=followed("10:1", *["20:0"] * beyond), at=day(15))
    assert any("only 4" in line for line in ours.warnings) is told


def test_the_order_of_the_jobs_does_not_matter():
    one = survival(follow_up=followed("5:1", "9:0", "12:1", "20:0"), at=day(15))
    other = survival(follow_up=followed("20:0", "12:1", "9:0", "5:1"), at=day(15))
    assert one.results() == other.results()


def test_no_callback_yet_has_no_limits():
    ours = survival(follow_up=followed("10:0", "20:0"), at=day(15))
    assert (ours.survival, ours.low, ours.high, ours.limits) == (1, None, None, None)


def test_nobody_left_has_no_error():
    ours = survival(follow_up=followed("10:1", "20:1"), at=day(20))
    assert (ours.survival, ours.standard_error, ours.low) == (0, None, None)


def test_nothing_is_said_beyond_the_longest_follow_up():
    with pytest.raises(OutOfRange, match="at: must be at most 20 day"):
        survival(follow_up=followed("10:1", "20:0"), at=day(21))


def test_the_kind_of_limits_is_named_and_the_kinds_differ():
    """6-MP arm, day 6: 0.720 to 1.000 (log, as R prints) and 0.620 to 0.952 (log-log)."""
    arm = followed(*ARM.split())
    log, other = (survival(follow_up=arm, at=day(6), limits=kind) for kind in ("log", "log-log"))
    assert (log.limits, other.limits) == ("log", "log-log")
    assert (log.low, log.high) == (pytest.approx(0.720, abs=5e-4), 1)
    assert (other.low, other.high) == (
        pytest.approx(0.620, abs=5e-4),
        pytest.approx(0.952, abs=5e-4),
    )


@pytest.mark.parametrize("text", ["10", "10:2", "x:1", "-1:0", "10:"])
def test_follow_up_is_read_as_days_and_nought_or_one(text):
    with pytest.raises(EngineeringError, match="follow_up"):
        read_follow_up("follow_up", text)


def test_follow_up_is_read():
    assert read_follow_up("follow_up", "34:0") == FollowUpTime(34, False)
    assert read_follow_up("follow_up", "9 days:1") == FollowUpTime(9, True)
    with pytest.raises(MissingInput, match="follow_up"):
        compute("survival", at="10 day")


@STEADY
@given(st.lists(st.tuples(st.integers(0, 90), st.booleans()), min_size=1, max_size=40))
def test_without_censoring_the_curve_is_the_plain_share(jobs):
    """With every job seen to its callback, Greenwood is the binomial standard error."""
    times = [FollowUpTime(days, True) for days, _ in jobs]
    last = max(each.days for each in times)
    ours = survival(follow_up=times, at=day(last / 2))
    share = sum(each.days > last / 2 for each in times) / len(times)
    assert ours.survival == pytest.approx(share, abs=1e-12)
    if share > 0:
        assert ours.standard_error == pytest.approx(math.sqrt(share * (1 - share) / len(times)))


def test_registering_twice_is_harmless():
    register_statistics()
    register_statistics()
