"""The owner's answer against published figures, each with its source.

SEEN: the figure was read in the source or on a public page; SEEN-2nd: as quoted by the public test
or help page of a package; MEMORY: from memory, so only our own value is held fast.
"""

import math

import pytest

from jobs.reports.fair_course import CALLED, LOST, OPEN, Ending, course_of
from jobs.reports.fair_exact import distribution, tail_of
from jobs.reports.fair_guess import best_guess, pulled_in
from jobs.reports.fair_limits import count_limits, odds_limits, odds_ratio, share_limits
from jobs.reports.fair_table import Class, matched
from jobs.reports.limits import poisson_limits
from tests.jobs.reports.fair_tables import STONES, rabbits, table


def test_rabbits_exact_one_sided_and_two_sided():
    """R, help of mantelhaen.test; Agresti 1990 pp. 231-237: exact p 0.020 and 0.040 (SEEN)."""
    found = distribution(rabbits())
    seen = found.shares[16 - found.low]
    assert tail_of(rabbits(), 0.0, 16) == pytest.approx(0.020, abs=5e-4)
    two_sided = math.fsum(p for p in found.shares if p <= seen * (1 + 1e-7))
    assert two_sided == pytest.approx(0.040, abs=5e-4)
    assert tail_of(rabbits(), 0.0, 16) == pytest.approx(0.01997, abs=5e-6)
    assert odds_ratio(rabbits()) == pytest.approx(10.361, abs=5e-4)


@pytest.mark.parametrize(
    ("count", "jobs", "low", "high", "digits"),
    [
        # Newcombe, Statistics in Medicine 17 (1998) 857, Table I, mid-P; quoted in a package's
        # tests (SEEN-2nd)
        (81, 263, 0.2544, 0.3658, 4),
        (1, 29, 0.0017, 0.1585, 4),
        # Berry & Armitage, The Statistician 44 (1995) 417, p. 420 (SEEN-2nd)
        (5, 20, 0.098, 0.470, 3),
        # help page of an R function for the mid-P interval (SEEN)
        (5, 20, 0.09786008, 0.47022380, 7),
        (10, 30, 0.1833232, 0.5141852, 6),
    ],
)
def test_mid_p_limits_of_a_share(count, jobs, low, high, digits):
    assert share_limits(count, jobs) == pytest.approx((low, high), abs=0.5001 * 10**-digits)


def test_nobody_and_everybody_have_a_limit_on_one_side_only():
    assert share_limits(0, 20)[0] == 0
    assert share_limits(20, 20)[1] == 1
    nobody, everybody = [Class(10, 0, 10, 4)], [Class(10, 4, 10, 0)]
    assert odds_ratio(nobody) == odds_limits(nobody)[0] == 0
    assert odds_ratio(everybody) == odds_limits(everybody)[1] == math.inf


def test_mid_p_limits_of_observed_by_expected():
    """OpenEpi manual, O 4 and E 3.3: ratio 1.212 (SEEN); the limits are those of statsmodels."""
    assert pytest.approx(1.212, abs=5e-4) == 4 / 3.3
    low, high = (limit / 3.3 for limit in count_limits(4))
    assert (low, high) == pytest.approx((0.3851, 2.9238), abs=5e-5)


def test_exact_upper_limit_of_no_callback():
    """Help of R's pois.exact: 0 gives an upper limit of 3.689 (SEEN)."""
    assert poisson_limits(0, 0.95)[1] == pytest.approx(3.689, abs=5e-4)


def test_eighteen_batting_averages_shrink_by_the_published_factor():
    """Efron & Morris, Scientific American 236 (1977) 119: mean 0.265, factor 0.212 (SEEN).

    Our guess is the other form, counts beside a number of expected ones: the factor of a person
    is E / (E + a) there. Here the published arithmetic holds the raw figures fast that both share.
    """
    hits = [18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7]
    shares = [hit / 45 for hit in hits]
    mean = math.fsum(shares) / 18
    spread = math.fsum((share - mean) ** 2 for share in shares)
    factor = 1 - (18 - 3) * mean * (1 - mean) / 45 / spread
    assert mean == pytest.approx(0.265, abs=5e-4)
    assert factor == pytest.approx(0.212, abs=5e-4)
    assert pulled_in(hits)[:2] == [17, 17]


def test_claims_of_a_portfolio_shrink_as_printed():
    """Efron & Hastie, Computer Age Statistical Inference (2016), Table 6.1 (MEMORY).

    Gamma prior with shape 0.7015 and scale 0.3056: after 0 to 6 claims 0.164 0.398 0.633 0.87 1.10
    1.34 1.57; ours gives 0.632 at the third, and statsmodels finds the shape 0.7010.
    """
    shape, mean = 0.7015, 0.7015 * 0.3056
    ours = [mean * best_guess(claims, mean, shape) for claims in range(7)]
    assert ours == pytest.approx([0.164, 0.398, 0.633, 0.87, 1.10, 1.34, 1.57], abs=6e-3)
    assert ours[2] == pytest.approx(0.632, abs=5e-4)


def test_competing_loss_of_satagopan():
    """Satagopan et al., British Journal of Cancer 91 (2004) 1229, Table 2 (SEEN).

    At risk 304, 302, 301, 300, 298, 297 at 10, 16, 18, 23, 26, 27 months, other endings at 18 and
    26: free of both 99.7, 99.3, 99.0, 98.7 %, incidence 0.3, 0.6, 0.9, 1.2 %. The table adds
    rounded steps, so 0.15 is allowed; one leaves unseen before each gap in the numbers at risk.
    """
    rows = [Ending(day, CALLED) for day in (10, 16, 23, 27)] + [Ending(18, LOST), Ending(26, LOST)]
    rows += [Ending(15, OPEN), Ending(25, OPEN), Ending(40, OPEN, 296)]
    course = course_of(rows)
    printed = {10: (99.7, 0.3), 16: (99.3, 0.6), 23: (98.7, 0.9), 27: (None, 1.2)}
    for month, (free, incidence) in printed.items():
        step = course.at(month)
        assert 100 * step.called == pytest.approx(incidence, abs=0.15)
        if free is not None:
            assert 100 * step.neither == pytest.approx(free, abs=0.15)
    assert [round(100 * course.at(m).called, 2) for m in printed] == [0.33, 0.66, 0.99, 1.32]
    assert 100 * course.at(18).neither == pytest.approx(99.0, abs=0.15)


def test_kidney_stones_turn_the_picture():
    """Charig et al., BMJ 292 (1986) 879 (SEEN): crude 22.0 % against 17.4 %, better in both."""
    open_surgery, other = matched(table(STONES))
    assert pytest.approx(0.220, abs=5e-4) == 77 / 350
    assert pytest.approx(0.174, abs=5e-4) == 61 / 350
    assert (open_surgery.called, other.called) == (77, 61)
    assert open_surgery.expected == pytest.approx(93.79, abs=5e-3)
    assert open_surgery.called < open_surgery.expected
    assert other.called > other.expected
    assert odds_ratio(open_surgery.classes) == pytest.approx(0.700, abs=5e-4)
    assert odds_limits(open_surgery.classes) == pytest.approx((0.446, 1.098), abs=5e-4)


def test_one_class_is_the_exact_test_of_fisher():
    """Own example; scipy agrees to 1e-10 (in the second references)."""
    classes = [Class(40, 6, 60, 3)]
    assert tail_of(classes, 0.0, 6) == pytest.approx(0.0890, abs=5e-5)
    assert odds_ratio(classes) == pytest.approx(3.311, abs=5e-4)
    low, high = odds_limits(classes, own=1.0)
    assert (low, high) == (pytest.approx(0.656, abs=5e-4), pytest.approx(21.79, abs=5e-3))


def test_twelve_jobs_with_and_without_a_loss():
    """Own example; lifelines agrees (in the second references)."""
    endings = [Ending(day, CALLED) for day in (9, 14, 33)]
    endings += [Ending(day, OPEN) for day in (14, 30, 60, 60, 75, 90, 90)]
    last = course_of([*endings, Ending(21, OPEN), Ending(45, OPEN)]).at(90)
    assert last.called == pytest.approx(0.2857, abs=5e-5)
    last = course_of([*endings, Ending(21, LOST), Ending(45, LOST)]).at(90)
    assert last.called == pytest.approx(0.2725, abs=5e-5)
    assert last.lost == pytest.approx(0.1984, abs=5e-5)
    assert last.neither == pytest.approx(0.5291, abs=5e-5)
    assert last.had_nobody_left == pytest.approx(0.2857, abs=5e-5)
