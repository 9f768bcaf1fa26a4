"""The setting of a dosing pump in words: both figures where it is set by two."""

from __future__ import annotations

from typing import Any, Protocol

from equipment.engineering.names import PumpHead
from equipment.engineering.oxidant.pump_setting import (
    CYCLE,
    PULSES,
    SHARE,
    SPEED,
    STROKE,
    PumpSetting,
)
from equipment.quantities import SettingName

from .figures import THIN

#: label and unit of each figure beside its box
LABELS: dict[str, tuple[str, str]] = {
    SHARE: ("Dosing pump setting", "percent"),
    CYCLE: ("Cycle of the timer", "s"),
    STROKE: ("Stroke", "percent"),
    SPEED: ("Speed", "percent"),
    PULSES: ("Pulses of the meter for one stroke", ""),
}
#: what an older row of such a pump does not say
NOT_WHOLE: dict[PumpHead, str] = {
    PumpHead.TIMER: "cycle not written down",
    PumpHead.STROKE: "stroke and speed not written down",
    PumpHead.METERED: "stroke and pulses not written down",
}


def setting_said(setting: PumpSetting, head: str = "") -> str:
    """Such as "24 % of a 15 s cycle"; `head` is known where a missing figure has to be said."""
    share = f"{setting.percent:g}{THIN}%"
    if setting.cycle_s:
        said = f"{share} of a {setting.cycle_s:g}{THIN}s cycle"
        return f"{said} (cycle by the catalog)" if setting.cycle_from_catalog else said
    if setting.stroke_percent is not None:
        stroke = f"stroke {setting.stroke_percent:g}{THIN}%"
        feeds = f"feeds {setting.percent:.3g}{THIN}%"
        if setting.pulses:
            return f"{stroke}, {_each(setting.pulses)}, {feeds}"
        return f"{stroke}, speed {setting.speed_percent or 0:g}{THIN}%, {feeds}"
    if head in NOT_WHOLE:
        return f"{share}, {NOT_WHOLE[PumpHead(head)]}"
    return share


class Changed(Protocol):
    """A row of a setting, from and to."""

    @property
    def pump_before(self) -> PumpSetting | None: ...

    @property
    def pump_now(self) -> PumpSetting | None: ...

    @property
    def stage(self) -> Any: ...

    @property
    def name(self) -> str: ...


def change_said(row: Changed) -> tuple[str, str] | None:
    """From and to of a pump setting; None where the row is of another setting."""
    if row.name != SettingName.OUTPUT or row.pump_now is None:
        return None
    head = row.stage.feed_pump.head if row.stage.feed_pump else ""
    before = setting_said(row.pump_before, head) if row.pump_before else ""
    return before, setting_said(row.pump_now, head)


def _each(pulses: float) -> str:
    return "a stroke each pulse" if pulses == 1 else f"a stroke each {pulses:g} pulses"
