"""When a dial-back is left for the day: at which setting, why, and what it has taken so far.

Four settings a visit at most, and strips that prove nothing, are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from equipment.engineering.oxidant.dial_figures import down_to_mark
from equipment.engineering.oxidant.pump_setting import PumpSetting

from .advice import computed_setting, turning_volume, wait_minutes
from .asked import Asked
from .facts import Step
from .keys import LineKey, PanelName
from .pump import plate
from .sheet import Sheet
from .states import TURNOVERS_NEEDED, counts

MOST_SETTINGS = 4
#: permanganate has no aim in mg/L: colourless and faint are inside, pink begins here
FAINT_MG_L = 0.5
WITHIN = "recheck within two working days"
RECHECK_WORKING_DAYS = 2
#: instead of a reading of the step that it is left at
LEFT = f"left so, {WITHIN}"


@dataclass(frozen=True)
class Leave:
    """Where the pump is left, the step that it was read at, and the reason."""

    because: str
    setting: PumpSetting | None = None
    #: share of the full output where no step was read at it
    percent: float | None = None


@dataclass(frozen=True)
class Spent:
    """Time and water that ran to waste."""

    minutes: float
    gallons: float


def steps_of_visit(sheet: Sheet) -> list[Step]:
    began = sheet.record.visit_began_at
    return [step for step in sheet.steps if began is None or step.set_at >= began]


def settings_tried(sheet: Sheet) -> int:
    return len({step.setting for step in steps_of_visit(sheet) if not step.left_because})


def doubted(sheet: Sheet) -> str:
    """Why the last reading is not used, "" where it is or where there is none."""
    return sheet.steps[-1].doubt if sheet.steps else ""


def leave_for_today(sheet: Sheet) -> Leave | None:
    """The way out of a dial-back that does not end today, None where it goes on or has ended."""
    if not sheet.steps or sheet.advice.value("stop"):
        return None
    if doubted(sheet):
        return _by_draw_down(sheet)
    if settings_tried(sheet) < MOST_SETTINGS:
        return None
    why = f"{MOST_SETTINGS} settings were tried, as many as one visit should take"
    for step in reversed(sheet.steps):
        if counts(step) and _is_clear(step) and _inside_or_just_above(sheet, step):
            return Leave(why, step.setting)
    return Leave(f"{why}; none of them read inside or just above the aim with a clear tap")


def left_reason(said: str, because: str) -> str:
    """Why the line of the steps is passed over."""
    return f"left at {said}: {because}; {WITHIN}"[:300]


def _by_draw_down(sheet: Sheet) -> Leave:
    why = doubted(sheet)
    computed = computed_setting(sheet.outcomes)
    measured = sheet.outcomes.of(PanelName.FEEDER_CALIBRATION).json
    if computed is None or measured is None or computed > 100:
        return Leave(f"{why}; a draw-down would prove the computed setting")
    pump = plate(sheet)
    mark = down_to_mark(computed, pump.setting_step_percent if pump else 1.0)
    return Leave(f"{why}; computed, with the output proved by draw-down", percent=mark)


def _is_clear(step: Step) -> bool:
    return bool(step.iron_clear and step.odour_clear)


def _inside_or_just_above(sheet: Sheet, step: Step) -> bool:
    """The band reaches above the aim's low end and begins no higher than its top."""
    low, high = step.residual_low_mg_l, step.residual_high_mg_l
    if low is None:
        return False
    aim = sheet.aim
    if aim is None:
        return step.colour_gone is not False and low <= FAINT_MG_L
    return low <= aim[1] and (high is None or high > aim[0]) and low >= aim[0] / 2


# --- what it takes -------------------------------------------------------------------------------


def spent(sheet: Sheet) -> Spent:
    """Of the steps of this visit, from setting to reading."""
    steps = [step for step in steps_of_visit(sheet) if not step.left_because]
    begun = sorted({step.set_at for step in steps})
    minutes, gallons = 0.0, 0.0
    for number, at in enumerate(begun, 1):
        following = begun[number] if number < len(begun) else sheet.now
        of_it = [step for step in steps if step.set_at == at]
        read = [step.read_at for step in of_it if step.read_at]
        ran = max(0.0, ((max(read) if read else following) - at).total_seconds() / 60)
        minutes += ran
        gallons += ran * (of_it[-1].tap_flow_gpm or sheet.value(LineKey.TAP_FLOW) or 0.0)
    return Spent(minutes, gallons)


def next_step(sheet: Sheet) -> Spent | None:
    """Three turnovers at the running tap; None where flow or volume are not known."""
    minutes, volume = wait_minutes(sheet.outcomes), turning_volume(sheet.outcomes)
    if minutes is None or volume is None:
        return None
    return Spent(minutes, TURNOVERS_NEEDED * volume)


def well_falls_short(sheet: Sheet) -> str:
    """What the well of today gives beside what a step takes; asked here, not from the files."""
    step, flow = next_step(sheet), sheet.value(LineKey.TAP_FLOW)
    gives = yield_today(sheet)
    if step is None or flow is None or gives is None or gives >= flow:
        return ""
    short = (flow - gives) * step.minutes
    return (
        f"The tap takes {flow:g} gpm and the well gives {gives:g} today: a step draws "
        f"{short:.0f} gal more than the well makes meanwhile. Let it recover between steps."
    )


def yield_today(asked: Asked) -> float | None:
    return asked.value(LineKey.YIELD_TODAY)
