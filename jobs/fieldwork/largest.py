"""Whether a setting passes the largest dose: one judgement for a step, a recheck and a fill."""

from __future__ import annotations

from equipment.engineering.errors import EngineeringError
from equipment.engineering.names import Oxidant
from equipment.engineering.oxidant.largest_dose import LargestDose, largest_dose
from equipment.engineering.oxidant.pump_setting import Pump, PumpSetting, nearest
from jobs.wording.pump_settings import setting_said

from .advice import dose_at, raw_demand
from .keys import PanelName
from .panels.run import Outcomes
from .pump import plate, typed_setting

NOT_WHOLE = (
    "cannot be judged yet: it needs each figure that this dosing pump is set by, and where it is "
    "set by a meter the flow of the well pump."
)


def largest_of(outcomes: Outcomes) -> LargestDose | None:
    """As the record knows it: the product that is fed, the raw water that it meets."""
    feeder, oxidant = outcomes.asked.feeder, outcomes.asked.oxidant
    if feeder is None:
        return None
    need = raw_demand(outcomes) if oxidant == Oxidant.PERMANGANATE else None
    level = feeder.product.maximum_use_level_mg_l if feeder.product else None
    return largest_dose(oxidant, use_level=level, need=need)


def over_said(
    setting: PumpSetting,
    *,
    dose: float,
    largest: LargestDose,
    pump: Pump | None,
    flow_gpm: float | None,
) -> str:
    """What it would feed, what is allowed and what to set; "" where the setting is within it."""
    if not largest.is_passed_by(dose):
        return ""
    step = pump.setting_step_percent if pump else 1.0
    mark = largest.allowed(setting.percent, dose, step)
    said = f"would feed {dose:.3g} mg/L; at most {largest.mg_l:.3g} mg/L, {largest.why}."
    if mark <= 0:
        return f"{said} This dosing pump cannot be set so low: mix the solution weaker."
    try:
        settable = nearest(mark, pump, now=setting, flow_gpm=flow_gpm)
    except EngineeringError:
        settable = PumpSetting(percent=mark)
    return f"{said} Set at most {setting_said(settable)}."


def over_largest(outcomes: Outcomes, setting: PumpSetting) -> str:
    """Why the dosing pump must not run at that setting; "" where nothing known forbids it."""
    largest, dose = largest_of(outcomes), dose_at(outcomes, setting.percent)
    if largest is None or dose is None:
        return ""
    asked = outcomes.asked
    return over_said(
        setting,
        dose=dose,
        largest=largest,
        pump=plate(asked),
        flow_gpm=asked.newest("pump_flow"),
    )


def left_too_high(outcomes: Outcomes) -> str:
    """Why the setting as it was left does not pass; also where it cannot be judged."""
    asked = outcomes.asked
    if asked.feeder is None:
        return ""
    if largest_of(outcomes) is None:
        is_open = asked.oxidant == Oxidant.PERMANGANATE
        needs = "cannot be judged: the largest dose rests on raw iron, manganese or sulfide."
        return needs if is_open else ""
    setting = typed_setting(asked)
    if setting is None:
        return NOT_WHOLE
    if setting.percent > 0 and dose_at(outcomes, setting.percent) is None:
        typed = {"setting": f"{setting.percent} percent"}
        refusal = outcomes.typed(PanelName.DOSE_FROM_SETTING, None, typed).refusal
        return f"cannot be judged against the largest dose: {refusal.rstrip('.')}."
    return over_largest(outcomes, setting)
