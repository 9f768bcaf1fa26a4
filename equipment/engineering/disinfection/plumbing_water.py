"""Water of house and tanks that gets chlorine beside the well.

Contents: plumbing_volume, tank_water_gal.
"""

from __future__ import annotations

import math
from typing import ClassVar

from equipment.engineering.errors import MissingInput
from equipment.engineering.plumbing.tank import ALTITUDE, atmosphere_psi
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

GAL, PSI = "gal", "psi"
LARGEST_GAL = 20_000.0


def _gallons(name: str, text: str) -> Key:
    return Key(name=name, unit=GAL, low=0, high=LARGEST_GAL, default="0 gal", help=text)


PIPES = _gallons("pipe_volume", "water in the pipes of the house")
HEATER = _gallons("heater_volume", "the heater's plate, unless it is bypassed or tankless")
RETENTION = _gallons("retention_volume", "contact and storage tanks that stay in line")
VESSELS = _gallons("vessel_volume", "water of each vessel that stays in line, without its media")
TANK = Key(name="tank_volume", unit=GAL, low=1, high=2000, help="pressure tank, on its plate")
PRECHARGE = Key(
    name="precharge", unit=PSI, low=0, high=150, help="of the pressure tank, tank drained"
)
PRESSURE = Key(
    name="pressure", unit=PSI, low=0, high=200, help="in the pressure tank, at most cut-out"
)


class PlumbingVolume(Answer):
    method: ClassVar[str] = "plumbing-volume/1"

    volume: Quantity = result(GAL, "water beside the well that gets chlorine")
    tank_water: Quantity | None = result(GAL, "of it in the pressure tank")


def plumbing_volume(
    *,
    pipe_volume: Quantity | None = None,
    heater_volume: Quantity | None = None,
    retention_volume: Quantity | None = None,
    vessel_volume: Quantity | None = None,
    tank_volume: Quantity | None = None,
    precharge: Quantity | None = None,
    pressure: Quantity | None = None,
    altitude: Quantity | None = None,
) -> PlumbingVolume:
    """Water that is chlorinated beside the well: pipes and everything that stays in line.

    V = pipes + heater + retention + vessels + V_t (1 - (P_c + P_a) / (P + P_a))

    pipe_volume, heater_volume, retention_volume, vessel_volume  [volume]  0 to 20000 gal, default 0
    tank_volume  V_t, of the pressure tank           [volume]    1 to 2000 gal
    precharge    P_c, with the tank drained          [pressure]  0 to 150 psi, with tank_volume
    pressure     P, when it is filled with chlorine  [pressure]  0 to 200 psi, with tank_volume
    altitude     sets the air pressure P_a           [length]    -1500 to 15000 ft, default 0
    returns      volume gal, tank_water gal

    Carbon stays out: it takes the chlorine up. Raises OutOfRange, MissingInput for a tank without
    its pressures. Source: Boyle's law; the sum is geometry.
    """
    parts = {
        "pipes": PIPES.optional(pipe_volume) or 0.0,
        "heater": HEATER.optional(heater_volume) or 0.0,
        "retention": RETENTION.optional(retention_volume) or 0.0,
        "vessels": VESSELS.optional(vessel_volume) or 0.0,
    }
    tank = TANK.optional(tank_volume)
    water = None
    if tank is not None:
        for key, value in ((PRECHARGE, precharge), (PRESSURE, pressure)):
            if value is None:
                raise MissingInput(key.name, f"is missing; {key.help}")
        water = tank_water_gal(
            tank,
            PRECHARGE.optional(precharge) or 0.0,
            PRESSURE.optional(pressure) or 0.0,
            atmosphere_psi(ALTITUDE.optional(altitude) or 0.0),
        )
        parts["pressure tank"] = water
    whole = math.fsum(parts.values())
    counted = " + ".join(f"{name} {size:.3g}" for name, size in parts.items() if size)
    return PlumbingVolume(
        volume=q(whole, GAL),
        tank_water=q(water, GAL),
        cautions=("Carbon stays out of line: it takes the chlorine up.",),
        sources=("Boyle's law for the pressure tank; the rest is what stands on the plates.",),
        working=(f"water = {counted or 'nothing'} = {whole:.4g} gal",),
    )


def tank_water_gal(volume: float, precharge: float, pressure: float, outside: float) -> float:
    """Water in a pressure tank at a gauge pressure, psi; none at or below the precharge."""
    return max(0.0, volume * (1 - (precharge + outside) / (pressure + outside)))


register(
    Calculation(
        name="plumbing-volume",
        title="Water of house and tanks that gets chlorine",
        function=plumbing_volume,
        answer=PlumbingVolume,
        keys=(PIPES, HEATER, RETENTION, VESSELS, TANK, PRECHARGE, PRESSURE, ALTITUDE),
    )
)
