"""How even a feed in pulses is once it has passed a mixed volume.

Contents: dose_ripple, ripple.
"""

from __future__ import annotations

import math
from typing import ClassVar

from equipment.engineering.errors import MissingInput, OutOfRange, WrongInput
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, result
from equipment.engineering.units import Quantity

from .feeding import FLOW, PERCENT

SECOND = "s"
GAL = "gal"
#: common practice, no source: a peak above this, or a mean this far off, is worth a change
HIGH_PEAK = 1.25
MEAN_OFF = 0.10
#: common practice, no source: a cycle should be at most this share of the detention
CYCLE_SHARE = 0.2

CYCLE = Key(
    name="cycle_length",
    unit=SECOND,
    required=True,
    low=0.1,
    high=3600,
    help="time from one on to the next, or from stroke to stroke",
)
ON_SHARE = Key(
    name="on_share",
    unit=PERCENT,
    required=True,
    low=0,
    high=100,
    help="share of the cycle the dosing pump feeds; 0 percent for a single stroke",
)
MIXING = Key(
    name="mixing_volume",
    unit=GAL,
    required=True,
    low=0,
    high=5000,
    help="mixed water behind the injector, up to where the dose matters",
)
RUN_TIME = Key(name="run_time", unit=SECOND, low=1, high=86400, help="how long the well pump runs")
RESTART = Key(
    name="restart",
    kind="choice",
    choices=("on", "off", "continues"),
    help="what the timer does when the well pump starts: begins on, begins off, or goes on",
)


class DoseRipple(Answer):
    method: ClassVar[str] = "ripple/1"

    peak_ratio: float = result("", "highest dose over the mean dose")
    trough_ratio: float = result("", "lowest dose over the mean dose")
    mean_ratio: float = result(
        "", "dose of a run of the well pump over the dose the setting should give"
    )
    cycle_over_detention: float | None = result(
        "", "cycle over the time water stays in the mixed volume"
    )


def dose_ripple(
    *,
    cycle_length: Quantity,
    on_share: Quantity,
    flow: Quantity,
    mixing_volume: Quantity,
    run_time: Quantity | None = None,
    restart: str | None = None,
) -> DoseRipple:
    """Highest and lowest dose behind one mixed volume fed on and off.

    a = t Q / V;  peak = (1 / s) (1 - e^(-s a)) / (1 - e^(-a));  trough = peak e^(-(1 - s) a)
    single stroke: peak = a / (1 - e^(-a)), trough = peak e^(-a);  no volume: 1 / s and 0
    mean = time fed in a run / (s x run)

    cycle_length   t  [time]    0.1 to 3600 s
    on_share       s  percent   0 (a stroke) to 100
    flow           Q  [flow]    0.1 to 5000 gpm
    mixing_volume  V  [volume]  0 to 5000 gal; above 0 for a stroke
    run_time       [time]  1 to 86,400 s, with restart = on, off, continues
    returns        ratios to the mean dose

    Raises OutOfRange outside those limits, MissingInput if only one of run_time and restart is
    given. Source: mass balance of one mixed volume with periodic feed; the warning levels are
    common practice, no source.
    """
    seconds, gpm = CYCLE.amount(cycle_length), FLOW.amount(flow)
    share, volume = ON_SHARE.amount(on_share) / 100, MIXING.amount(mixing_volume)
    if share == 0 and volume == 0:
        raise OutOfRange("mixing_volume", "must be above 0 gal for a single stroke (on_share 0)")
    run = _run(run_time, restart)
    exchange = math.inf if volume == 0 else seconds / 60 * gpm / volume
    peak, trough = ripple(share, exchange)
    mean = 1.0 if run is None else _mean(seconds, share, *run)
    return DoseRipple(
        peak_ratio=peak,
        trough_ratio=trough,
        mean_ratio=mean,
        cycle_over_detention=None if volume == 0 else exchange,
        warnings=_warnings(peak, mean, exchange, run),
        sources=("Mass balance of one mixed volume with periodic feed.",),
        working=(
            f"cycle over detention a = {seconds:g} s x {gpm:g} gpm / 60 / {volume:g} gal "
            f"= {exchange:.4g}",
            f"peak {peak:.4g}, trough {trough:.4g}, mean {mean:.4g} of the intended dose",
        ),
    )


def _run(run_time: Quantity | None, restart: str | None) -> tuple[float, str] | None:
    if run_time is None and restart is None:
        return None
    if run_time is None:
        raise MissingInput(
            "run_time", "is missing; restart needs the length of a run of the well pump"
        )
    if restart is None:
        raise MissingInput("restart", "is missing; say on, off or continues")
    if restart not in RESTART.choices:
        raise WrongInput("restart", f"{restart!r} is not one of on, off, continues")
    return RUN_TIME.amount(run_time), restart


def ripple(share: float, exchange: float) -> tuple[float, float]:
    """Peak and trough over the mean in the steady cycle."""
    if share == 1:
        return 1.0, 1.0
    if math.isinf(exchange):
        return 1 / share, 0.0
    if share == 0:
        peak = exchange / -math.expm1(-exchange)
    else:
        peak = math.expm1(-share * exchange) / math.expm1(-exchange) / share
    return peak, peak * math.exp(-(1 - share) * exchange)


def _mean(cycle: float, share: float, run: float, restart: str) -> float:
    """Fed in one run over what should be fed in it."""
    if restart == "continues":
        return 1.0
    whole, rest = divmod(run, cycle)
    if share == 0:
        strokes = whole if restart == "off" or rest == 0 else whole + 1
        return strokes * cycle / run
    on = share * cycle
    part = min(rest, on) if restart == "on" else max(0.0, rest - (cycle - on))
    return (whole * on + part) / (share * run)


def _warnings(
    peak: float, mean: float, exchange: float, run: tuple[float, str] | None
) -> tuple[str, ...]:
    warnings = []
    if peak > HIGH_PEAK:
        warnings.append(
            f"The dose swings up to {peak:.3g} times the mean: shorten the cycle, or give it more "
            "mixed volume."
        )
    elif exchange > CYCLE_SHARE:
        warnings.append("The cycle is longer than a fifth of the detention: shorten it.")
    if abs(mean - 1) > MEAN_OFF:
        way = "more" if mean > 1 else "less"
        warnings.append(
            "The timer starts anew with each run of the well pump and feeds "
            f"{abs(mean - 1):.0%} {way} than "
            "it is set to: shorten the cycle or let the timer go on."
        )
    if run is None:
        warnings.append(
            "Without run_time and restart the mean is that of a well pump that runs without "
            "stopping."
        )
    return tuple(warnings)


register(
    Calculation(
        name="dose-ripple",
        title="Swing of a dose fed in pulses",
        function=dose_ripple,
        answer=DoseRipple,
        keys=(CYCLE, ON_SHARE, FLOW, MIXING, RUN_TIME, RESTART),
    )
)
