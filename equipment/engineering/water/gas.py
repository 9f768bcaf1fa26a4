"""Gas that comes out of the water at a tap.

Contents: off_gas, and the gas solubilities and the vapour pressure it rests on.
"""

from __future__ import annotations

import math
from typing import ClassVar

from equipment.engineering.factors import KELVIN_AT_0_C, MPA_PER_ATM, PSI_PER_ATM
from equipment.engineering.oxidant.oxidants import OXYGEN_PER_PEROXIDE
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

from .properties import standard_pressure, water_density_kg_m3

MG_L = "mg/L"
ATM = "atm"
#: IAPWS critical point of water
CRITICAL_TEMPERATURE = 647.096
CRITICAL_PRESSURE = 22.064
#: IAPWS SR1-86: coefficients and powers of the vapour pressure
VAPOUR = (
    (-7.85951783, 1.0),
    (1.84408259, 1.5),
    (-11.7866497, 3.0),
    (22.6807411, 3.5),
    (-15.9618719, 4.0),
    (1.80122502, 7.5),
)
#: IAPWS G7-04, table 2: A, B, C of Henry's constant, and molar mass in g/mol
HENRY = {
    "oxygen": (-9.44833, 4.43822, 11.42005, 31.999),
    "nitrogen": (-9.67578, 4.72162, 11.70585, 28.013),
    "carbon dioxide": (-8.55445, 4.01195, 9.52345, 44.010),
}
WATER_MASS = 18.01527
#: volume share of nitrogen and argon in dry air
INERT_SHARE = 0.7901
#: groundwater keeps the nitrogen it took up as rain: air over water of 10 degC
RECHARGE_TEMPERATURE = 10.0
#: common value for well water near neutral, as a share of the air pressure (no source)
CARBON_DIOXIDE_SHARE = 0.01
#: nitrogen of groundwater that has taken up excess air (literature range, MEMORY)
EXCESS_AIR_NITROGEN = 0.95
#: total gas pressure over air pressure; 15, 30, 70 mg/L of excess peroxide at 10 degC
#: (trade figures, common practice, no source)
BEADS, VISIBLE, MILKY = 0.93, 1.06, 1.40

EXCESS = Key(
    name="peroxide_excess",
    unit=MG_L,
    required=True,
    low=0,
    high=1000,
    help="peroxide left over after iron and sulfide, all of it split by the carbon",
)
TEMPERATURE = Key(
    name="temperature", unit="degC", required=True, low=0, high=60, help="water at the tap"
)
ALTITUDE = Key(name="altitude", unit="ft", low=-1000, high=15000, help="height above sea level")
GAUGE = Key(
    name="gauge_pressure",
    unit="psi",
    low=0,
    high=150,
    help="pressure where the water is looked at; 0 at an open tap",
)
DISSOLVED_OXYGEN = Key(
    name="dissolved_oxygen", unit=MG_L, low=0, high=40, help="oxygen in the raw water"
)
NITROGEN = Key(
    name="nitrogen_tension",
    unit=ATM,
    low=0,
    high=10,
    help="nitrogen and argon in the raw water; 0.78 to 0.95 atm in groundwater",
)
CARBON_DIOXIDE = Key(
    name="carbon_dioxide", unit=MG_L, low=0, high=2000, help="carbon dioxide in the water"
)


class OffGas(Answer):
    method: ClassVar[str] = "off-gas/1"

    total_gas_pressure: Quantity = result(ATM, "sum of the gas tensions and the water vapour")
    onset: Quantity = result(
        MG_L, "excess peroxide at which the gases equal the pressure; 0 if they do without any"
    )
    expectation: str = result("", "none, beads, visible or milky; a notice, not a test")
    oxygen_released: Quantity = result(MG_L, "oxygen the peroxide gives off")


def vapour_pressure(temperature: float) -> float:
    """Vapour pressure of water in atm, temperature in degC, 0 to 370. Source: IAPWS SR1-86."""
    kelvin = temperature + KELVIN_AT_0_C
    tau = 1 - kelvin / CRITICAL_TEMPERATURE
    series = math.fsum(a * tau**power for a, power in VAPOUR)
    return CRITICAL_PRESSURE * math.exp(CRITICAL_TEMPERATURE / kelvin * series) / MPA_PER_ATM


def solubility(gas: str, temperature: float) -> float:
    """mg/L of gas dissolved per atm of its tension, temperature in degC. Source: IAPWS G7-04."""
    a, b, c, mass = HENRY[gas]
    reduced = (temperature + KELVIN_AT_0_C) / CRITICAL_TEMPERATURE
    tau = 1 - reduced
    exponent = a / reduced + b * tau**0.355 / reduced + c * reduced**-0.41 * math.exp(tau)
    henry_atm = vapour_pressure(temperature) * math.exp(exponent)
    return water_density_kg_m3(temperature) / WATER_MASS / henry_atm * mass * 1000


def off_gas(
    *,
    peroxide_excess: Quantity,
    temperature: Quantity,
    altitude: Quantity | None = None,
    gauge_pressure: Quantity | None = None,
    dissolved_oxygen: Quantity | None = None,
    nitrogen_tension: Quantity | None = None,
    carbon_dioxide: Quantity | None = None,
) -> OffGas:
    """Whether oxygen from excess peroxide makes bubbles.

    2 H2O2 -> 2 H2O + O2: 0.4704 mg O2 per mg;  TGP = pO2 + pN2 + pCO2 + pH2O
    onset = (P - pN2 - pCO2 - pH2O) K(O2) / 0.4704 - oxygen already there / 0.4704

    peroxide_excess    [concentration]  0 to 1000 mg/L, split completely
    temperature        [temperature]    0 to 60 degC
    altitude           [length]    -1000 to 15,000 ft; sea level if not given
    gauge_pressure     [pressure]  0 to 150 psi; 0 (open tap) if not given
    dissolved_oxygen   [concentration]  0 to 40 mg/L; 0 if not given
    nitrogen_tension   [pressure]  0 to 10 atm with argon; if not given that of air at 10 degC
    carbon_dioxide     [concentration]  0 to 2000 mg/L; if not given 0.01 of the air pressure
    returns            see OffGas

    Raises OutOfRange outside those limits. Sources: Henry's law with IAPWS G7-04, IAPWS SR1-86,
    ICAO standard atmosphere (MEMORY). The words are trade figures carried over from 15, 30 and
    70 mg/L at 10 degC by the total gas pressure: common practice, no source, +-50 percent.
    """
    excess, celsius = EXCESS.amount(peroxide_excess), TEMPERATURE.amount(temperature)
    feet = 0.0 if altitude is None else ALTITUDE.amount(altitude)
    gauge = 0.0 if gauge_pressure is None else GAUGE.amount(gauge_pressure)
    oxygen = 0.0 if dissolved_oxygen is None else DISSOLVED_OXYGEN.amount(dissolved_oxygen)
    air = standard_pressure(feet)
    nitrogen = (
        air * INERT_SHARE * (1 - vapour_pressure(RECHARGE_TEMPERATURE))
        if nitrogen_tension is None
        else NITROGEN.amount(nitrogen_tension)
    )
    carbon = (
        air * CARBON_DIOXIDE_SHARE
        if carbon_dioxide is None
        else CARBON_DIOXIDE.amount(carbon_dioxide) / solubility("carbon dioxide", celsius)
    )
    around = air + gauge / PSI_PER_ATM
    released = excess * OXYGEN_PER_PEROXIDE
    per_atm = solubility("oxygen", celsius)
    others = nitrogen + carbon + vapour_pressure(celsius)
    total = others + (oxygen + released) / per_atm
    onset = ((around - others) * per_atm - oxygen) / OXYGEN_PER_PEROXIDE
    return OffGas(
        total_gas_pressure=q(total, ATM),
        onset=q(max(0.0, onset), MG_L),
        expectation=expectation(total / around),
        oxygen_released=q(released, MG_L),
        warnings=_warnings(onset, celsius, nitrogen_tension is None),
        cautions=_cautions(),
        sources=(
            "Henry's law, IAPWS G7-04; vapour pressure, IAPWS SR1-86; ICAO standard atmosphere.",
            "None, beads, visible, milky: common practice, no source; good to half or double.",
        ),
        working=(
            f"oxygen released = {excess:g} mg/L x {OXYGEN_PER_PEROXIDE:.4f} = {released:.4g} mg/L",
            f"total gas pressure = N2 {nitrogen:.4g} + CO2 {carbon:.4g} + water "
            f"{vapour_pressure(celsius):.4g} + O2 ({oxygen:g} + {released:.4g}) / {per_atm:.4g} "
            f"= {total:.4g} atm against {around:.4g} atm",
        ),
    )


def expectation(ratio: float) -> str:
    """The trade's word for total gas pressure over the pressure around the water."""
    for limit, word in ((BEADS, "none"), (VISIBLE, "beads"), (MILKY, "visible")):
        if ratio < limit:
            return word
    return "milky"


def _warnings(onset: float, celsius: float, nitrogen_assumed: bool) -> tuple[str, ...]:
    warnings = []
    if onset <= 0:
        warnings.append(
            "The gases exceed the pressure even without peroxide: do not blame the dose."
        )
    if nitrogen_assumed:
        warnings.append(
            f"Nitrogen is taken as that of air; groundwater with excess air (up to "
            f"{EXCESS_AIR_NITROGEN:g} atm) bubbles at about 20 mg/L less."
        )
    if celsius >= 40:
        warnings.append(
            "Hot taps fizz with hardly any peroxide, or none: judge cold water after the carbon."
        )
    return tuple(warnings)


def _cautions() -> tuple[str, ...]:
    return (
        "A failed air tank or a leak on the suction side makes milky water without peroxide, and "
        "so does a new dry carbon bed: look at the raw water and at treated water with the "
        "dosing pump "
        "off before blaming the dose.",
        "Holds once the carbon has split the peroxide; ahead of the carbon it does not fizz. "
        "Bubbles are no measure of peroxide: test the tap, it must read below 0.5 mg/L.",
        "Gas that burns or smells may be methane or hydrogen sulfide: no flame, air out the room.",
    )


register(
    Calculation(
        name="off-gas",
        title="Bubbles from excess peroxide",
        function=off_gas,
        answer=OffGas,
        keys=(EXCESS, TEMPERATURE, ALTITUDE, GAUGE, DISSOLVED_OXYGEN, NITROGEN, CARBON_DIOXIDE),
    )
)
