"""The owner's four statistics, pure Python: no database, no clock, no scientific library.

Contents: callback_rate, observed_expected, funnel_limits, survival, register_statistics. The
plain arithmetic stands in limits.py.

They are never stored on or printed for a customer. Each interval says what kind it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from equipment.engineering.errors import OutOfRange, WrongInput
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, result
from equipment.engineering.units import Quantity, magnitude, number

from .limits import (
    LOG,
    LOG_LOG,
    funnel_exact,
    funnel_normal,
    kaplan_meier,
    poisson_limits,
    survival_limits,
    wilson_limits,
    z_of,
)

CONFIDENCE = 0.95
#: below this many jobs print the count and no rate (common practice, no source)
FEW_JOBS = 10
#: below this expected count print the counts only (common practice, no source)
FEW_EXPECTED = 1.0
#: fewer than this still followed: the curve says little (common practice, no source)
FEW_FOLLOWED = 5
EXACT, NORMAL = "exact", "normal"

CONFIDENCE_KEY = Key(
    name="confidence", kind="number", low=0.5, high=0.999, default="0.95", help="0.95, not 95"
)
CALLBACKS = Key(
    name="callbacks",
    kind="number",
    required=True,
    low=0,
    high=10_000_000,
    help="jobs with at least one callback in the window",
)
JOBS = Key(
    name="jobs",
    kind="number",
    required=True,
    low=1,
    high=10_000_000,
    help="judgeable jobs: old enough for the window and still followed",
)
OBSERVED = Key(
    name="observed", kind="number", required=True, low=0, high=100_000, help="callbacks counted"
)
EXPECTED = Key(
    name="expected",
    kind="number",
    required=True,
    low=0,
    low_open=True,
    high=100_000,
    help="callbacks at the company's rate for the same kinds of work",
)
RATE = Key(
    name="rate",
    kind="number",
    required=True,
    low=0,
    low_open=True,
    high=0.999,
    help="company rate, 0.06 and not 6",
)
FUNNEL_JOBS = Key(
    name="jobs",
    kind="number",
    required=True,
    low=1,
    high=1_000_000,
    help="judgeable jobs of the person",
)
TAIL = Key(
    name="tail",
    kind="number",
    required=True,
    low=0.0001,
    high=0.4,
    help="share left outside on each side: 0.025 and 0.001",
)
METHOD = Key(
    name="method",
    kind="choice",
    choices=(EXACT, NORMAL),
    default=EXACT,
    help="exact for small rates and few jobs",
)
AT = Key(name="at", unit="day", required=True, low=0, high=36_500, help="day of the curve")
LIMITS = Key(
    name="limits",
    kind="choice",
    choices=(LOG, LOG_LOG),
    default=LOG,
    help="kind of limits; the two differ",
)


def whole(key: Key, value: float) -> int:
    """A count: inside the key's range and without a fraction."""
    size = key.amount(value)
    if size != int(size):
        raise WrongInput(key.name, f"must be a whole number, got {size:g}")
    return int(size)


class CallbackRate(Answer):
    method: ClassVar[str] = "wilson/1"

    rate: float = result("", "callbacks by jobs")
    low: float = result("", "lower Wilson limit")
    high: float = result("", "upper Wilson limit")


def callback_rate(*, callbacks: float, jobs: float, confidence: float = CONFIDENCE) -> CallbackRate:
    """Share of jobs with a callback, with Wilson score limits without continuity correction.

    centre = (p + z^2 / 2n) / (1 + z^2 / n);
    half = z sqrt(p (1 - p) / n + z^2 / 4n^2) / (1 + z^2 / n);  limits = centre -/+ half

    callbacks   x                     [bare]  0 to jobs
    jobs        n, judgeable          [bare]  1 or more
    confidence  two-sided             [bare]  0.5 to 0.999, default 0.95
    returns     rate, low, high, bare

    The half width goes around the centre, not around p. Raises OutOfRange, WrongInput.
    Source: Newcombe, Statistics in Medicine 17 (1998) 857, Table I, method 3 (SEEN-2nd).
    """
    n = whole(JOBS, jobs)
    x = whole(CALLBACKS, callbacks)
    if x > n:
        raise OutOfRange("callbacks", f"must be at most jobs ({n}), got {x}")
    low, high = wilson_limits(x, n, CONFIDENCE_KEY.amount(confidence))
    return CallbackRate(
        rate=x / n,
        low=low,
        high=high,
        warnings=(f"Fewer than 10 jobs ({n}): show the count, not the rate.",)
        if n < FEW_JOBS
        else (),
        sources=("Wilson score limits: Newcombe, Statistics in Medicine 17 (1998) 857, method 3.",),
        working=(f"rate = {x} / {n} = {x / n:.4f}, limits {low:.4f} to {high:.4f}",),
    )


class ObservedExpected(Answer):
    method: ClassVar[str] = "poisson/1"

    ratio: float = result("", "observed by expected")
    low: float = result("", "lower exact limit")
    high: float = result("", "upper exact limit")


def observed_expected(
    *, observed: float, expected: float, confidence: float = CONFIDENCE
) -> ObservedExpected:
    """Callbacks against what the same mix of work gives in the company, with exact limits.

    ratio = O / E;  lower m: P(X >= O | m) = a / 2;  upper m: P(X <= O | m) = a / 2;
    X Poisson, a = 1 - confidence, limits m / E

    observed    O                [bare]  0 to 100000
    expected    E                [bare]  above 0, at most 100000
    confidence  two-sided        [bare]  0.5 to 0.999, default 0.95
    returns     ratio, low, high, bare

    Compares each person with the company, not fairly with another person. Raises OutOfRange,
    WrongInput. Source: Garwood's exact Poisson limits; published values UKHSA test data (SEEN).
    """
    count, base = whole(OBSERVED, observed), EXPECTED.amount(expected)
    low, high = poisson_limits(count, CONFIDENCE_KEY.amount(confidence))
    few = base < FEW_EXPECTED
    return ObservedExpected(
        ratio=count / base,
        low=low / base,
        high=high / base,
        warnings=("Less than one callback expected: show the counts only.",) if few else (),
        sources=("Exact Poisson limits (Garwood).",),
        working=(
            f"ratio = {count} / {base:g} = {count / base:.3f}",
            f"limits of the count {low:.4g} to {high:.4g}",
        ),
    )


class FunnelLimits(Answer):
    method: ClassVar[str] = "funnel/1"

    low: float = result("", "rate below which chance alone is unlikely")
    high: float = result("", "rate above which chance alone is unlikely")


def funnel_limits(*, rate: float, jobs: float, tail: float, method: str = EXACT) -> FunnelLimits:
    """Prediction limits of a rate about the company's rate, for one point of a funnel plot.

    normal: theta -/+ z sqrt(theta (1 - theta) / n), clipped to 0..1
    exact:  r = smallest with P(R <= r) >= p, R binomial (n, theta), p = tail and 1 - tail;
            limit = (r - (P(R <= r) - p) / P(R = r)) / n, clipped to 0..1

    rate    theta, company or target rate  [bare]  above 0, at most 0.999
    jobs    n                              [bare]  1 to 1000000
    tail    on each side                   [bare]  0.0001 to 0.4; 0.025 and 0.001 are usual
    method  exact (default) or normal
    returns low, high, bare

    Limits about theta, not a confidence interval of the person. Raises OutOfRange, WrongInput.
    Source: Spiegelhalter, Statistics in Medicine 24 (2005) 1185 (purpose SEEN, formulas MEMORY);
    the normal form reproduces UKHSA test data (SEEN).
    """
    theta, n, outside = RATE.amount(rate), whole(FUNNEL_JOBS, jobs), TAIL.amount(tail)
    if method not in METHOD.choices:
        raise WrongInput("method", f"{method[:30]!r} is not one of {', '.join(METHOD.choices)}")
    compute = funnel_exact if method == EXACT else funnel_normal
    low, high = (compute(theta, n, share) for share in (outside, 1 - outside))
    thin = method == NORMAL and n * min(theta, 1 - theta) < FEW_JOBS
    return FunnelLimits(
        low=low,
        high=high,
        warnings=("Few callbacks expected: the normal limits are too narrow, use exact.",)
        if thin
        else (),
        sources=("Funnel plot limits: Spiegelhalter, Statistics in Medicine 24 (2005) 1185.",),
        working=(f"{method} limits about {theta:g} for {n} jobs: {low:.4f} to {high:.4f}",),
    )


@dataclass(frozen=True)
class FollowUpTime:
    """One job: days it was followed, and whether that ended with a callback."""

    days: float
    callback: bool

    def as_json(self) -> dict[str, str]:
        return {"value": f"{self.days:g}:{int(self.callback)}", "unit": "day"}


def read_follow_up(key: str, text: str) -> FollowUpTime:
    """ "34:0" followed 34 days without a callback, "9:1" a callback on day 9."""
    days, colon, callback = text.partition(":")
    if not colon or callback.strip() not in ("0", "1"):
        raise WrongInput(key, "is days:0 (no callback so far) or days:1 (callback), such as 34:0")
    value = number(key, days.strip().removesuffix("days").removesuffix("day"))
    if not 0 <= value <= 36_500:
        raise OutOfRange(key, f"must be 0 to 36500 days, got {value:g}")
    return FollowUpTime(value, callback.strip() == "1")


FOLLOW_UP = Key(
    name="follow_up",
    kind="repeated",
    required=True,
    reader=read_follow_up,
    help="one job each: days followed and 1 for a callback, 0 for none",
)


class Survival(Answer):
    method: ClassVar[str] = "kaplan-meier/1"

    survival: float = result("", "share of jobs without a callback by that day")
    callback_risk: float = result("", "1 - survival")
    standard_error: float | None = result("", "Greenwood")
    low: float | None = result("", "lower limit, kind as named")
    high: float | None = result("", "upper limit, kind as named")
    limits: str | None = result("", "kind of limits")
    at_risk: float = result("", "jobs followed beyond that day")


def survival(
    *,
    follow_up: Sequence[FollowUpTime],
    at: Quantity,
    confidence: float = CONFIDENCE,
    limits: str = LOG,
) -> Survival:
    """Share of jobs without a callback by a day, from jobs followed for different times.

    S = product of (1 - d / r) over callback days up to t, r followed just before the day (those
    whose time ends that day without a callback count as followed);
    Greenwood SE = S sqrt(sum d / (r (r - d)));  log limits S exp(-/+ z SE / S), at most 1;
    log-log limits S^exp(+/- z SE / (S ln S))

    follow_up   repeated, days and callback   at least one
    at          t                             [time]  0 to the longest follow-up
    confidence  two-sided                     [bare]  0.5 to 0.999, default 0.95
    limits      log (default) or log-log
    returns     survival, callback_risk, standard_error, low, high, limits, at_risk

    Without a callback, or when nobody is left, there is no limit. Raises OutOfRange beyond the
    longest follow-up: nothing is known there. Source: Kaplan-Meier; 6-MP arm of Freireich 1963
    as printed by two public course notes (SEEN), whose limits are the log kind.
    """
    day = _day(at)
    if not follow_up:
        raise WrongInput("follow_up", "needs at least one job")
    longest = max(each.days for each in follow_up)
    if day > longest:
        raise OutOfRange("at", f"must be at most {longest:g} day, the longest follow-up")
    if limits not in LIMITS.choices:
        raise WrongInput("limits", f"{limits[:30]!r} is not one of {', '.join(LIMITS.choices)}")
    share, error, left = kaplan_meier(((each.days, each.callback) for each in follow_up), day)
    low, high = survival_limits(share, error, z_of(CONFIDENCE_KEY.amount(confidence)), limits)
    return Survival(
        survival=share,
        callback_risk=1 - share,
        standard_error=error,
        low=low,
        high=high,
        limits=limits if low is not None else None,
        at_risk=left,
        warnings=(f"Jobs followed beyond day {day:g}: only {left}.",)
        if left < FEW_FOLLOWED
        else (),
        sources=("Kaplan-Meier estimate with Greenwood's standard error.",),
        working=(f"share without a callback by day {day:g} = {share:.4f}",),
    )


def _day(at: Quantity) -> float:
    AT.check(at)
    return magnitude("at", at, "day")


STATISTICS = (
    Calculation(
        name="callback-rate",
        title="Callback rate with Wilson limits",
        function=callback_rate,
        answer=CallbackRate,
        keys=(CALLBACKS, JOBS, CONFIDENCE_KEY),
    ),
    Calculation(
        name="observed-expected",
        title="Observed against expected callbacks",
        function=observed_expected,
        answer=ObservedExpected,
        keys=(OBSERVED, EXPECTED, CONFIDENCE_KEY),
    ),
    Calculation(
        name="funnel-limits",
        title="Limits of a funnel plot",
        function=funnel_limits,
        answer=FunnelLimits,
        keys=(RATE, FUNNEL_JOBS, TAIL, METHOD),
    ),
    Calculation(
        name="survival",
        title="Time to the first callback",
        function=survival,
        answer=Survival,
        keys=(FOLLOW_UP, AT, CONFIDENCE_KEY, LIMITS),
    ),
)


def register_statistics() -> None:
    """Put the four under their names; called when the jobs app is ready, harmless when repeated."""
    for each in STATISTICS:
        register(each)
