"""Newest readings and settings among the facts, each with where it comes from."""

from __future__ import annotations

from equipment.engineering.oxidant.pump_setting import PumpSetting
from equipment.quantities import MEASURED, SETTING_UNITS, Known, SettingName

from .facts import Facts, Stage


class OnFile:
    """Looked up by quantity and place; settings by part."""

    def __init__(self, facts: Facts) -> None:
        self._readings = {(r.quantity, r.place): r for r in facts.readings if r.stage is None}
        self._of_parts = {(r.quantity, r.stage): r for r in facts.readings if r.stage is not None}
        self._settings = {(s.stage, s.name, s.tank): s for s in facts.settings}

    def reading(self, quantity: str, place: str = "") -> Known | None:
        """Of well or house; what was read behind a part is not the water of the house."""
        row = self._readings.get((quantity, place))
        return Known.of(row.value, MEASURED[quantity].unit, row.origin) if row else None

    def of_part(self, quantity: str, stage: Stage | None) -> Known | None:
        """Read at a part itself, such as how long its controller runs."""
        row = self._of_parts.get((quantity, stage.pk)) if stage else None
        return Known.of(row.value, MEASURED[quantity].unit, row.origin) if row else None

    def setting(self, stage: Stage | None, name: SettingName) -> Known | None:
        """What was last set there, at one tank by itself where the part has several."""
        if stage is None:
            return None
        row = self._settings.get((stage.pk, name, stage.tank))
        return Known.of(row.value, SETTING_UNITS[name], row.origin) if row else None

    def pump(self, stage: Stage | None) -> PumpSetting | None:
        """What a dosing pump was last set to, both figures."""
        row = self._settings.get((stage.pk, SettingName.OUTPUT, 0)) if stage else None
        return row.pump if row else None
