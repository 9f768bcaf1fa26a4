"""Acid and lime in the water: carbon dioxide, saturation index, and a calcite neutralizer.

Contents: carbon_dioxide, carbonic_pk1, carbon_dioxide_mg_l, saturation_index, neutralizer.
"""

from __future__ import annotations

import math
from typing import ClassVar

from equipment.engineering.errors import OutOfRange
from equipment.engineering.factors import (
    DAYS_PER_YEAR,
    LITRES_PER_GALLON,
    MG_PER_L_PER_GPG,
    MG_PER_POUND,
)
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

KELVIN_AT_0_C = 273.15
#: mg/L CO2 per mg/L alkalinity as CaCO3: 44.01 / 50.04
CO2_PER_ALKALINITY = 0.8794
#: mg/L CO2 that 1 mg/L CaCO3 takes up: 44.01 / 100.09
CO2_PER_CALCITE = 0.4397
#: first acid constant of carbonic acid, log K1 = a + b T + c / T + d log T + e / T^2: Plummer &
#: Busenberg, Geochim. Cosmochim. Acta 46 (1982) 1011 (MEMORY)
PLUMMER = (-356.3094, -0.06091964, 21834.37, 126.8339, -1684915.0)
#: below this calcite alone is slow (PRACTICE)
CALCITE_FROM_PH = 6.0
#: above this a neutralizer has nothing to do (PRACTICE)
NEUTRAL_PH = 7.5

PH = Key(
    name="ph",
    kind="number",
    required=True,
    low=4.5,
    high=8.5,
    help="measured at the well, at once: it rises as gas escapes",
)
ALKALINITY = Key(
    name="alkalinity",
    unit="mg/L",
    required=True,
    low=0,
    low_open=True,
    high=1000,
    help="total, as CaCO3",
)
TEMPERATURE = Key(
    name="temperature",
    unit="degC",
    required=True,
    low=0,
    high=50,
    help="of the water when the pH was read",
)


def carbonic_pk1(celsius: float) -> float:
    """pK1 of carbonic acid at 0 to 90 degC, no salt."""
    kelvin = celsius + KELVIN_AT_0_C
    a, b, c, d, e = PLUMMER
    return -(a + b * kelvin + c / kelvin + d * math.log10(kelvin) + e / kelvin**2)


def carbon_dioxide_mg_l(ph: float, alkalinity_mg_l: float, celsius: float) -> float:
    """Free CO2 of a water whose alkalinity is bicarbonate."""
    return float(CO2_PER_ALKALINITY * alkalinity_mg_l * 10 ** (carbonic_pk1(celsius) - ph))


class CarbonDioxide(Answer):
    method: ClassVar[str] = "co2/1"

    co2: Quantity = result("mg/L", "free carbon dioxide")


def carbon_dioxide(*, ph: float, alkalinity: Quantity, temperature: Quantity) -> CarbonDioxide:
    """Free carbon dioxide from pH and alkalinity.

    CO2 = 0.8794 alk 10^(pK1 - pH)

    ph           measured at the well        [bare]           4.5 to 8.5
    alkalinity   alk, total as CaCO3         [concentration]  above 0, at most 1000 mg/L
    temperature  for pK1                     [degC]           0 to 50
    returns      co2 mg/L

    Alkalinity counts as bicarbonate and salt is left out: good to a few percent up to pH 8.5.
    Raises OutOfRange. Source: Plummer & Busenberg 1982 (MEMORY); agrees with the table of Tucker
    1984 (SEEN, reprint) within about 1 percent.
    """
    reading, alk, celsius = (
        PH.amount(ph),
        ALKALINITY.amount(alkalinity),
        TEMPERATURE.amount(temperature),
    )
    gas = carbon_dioxide_mg_l(reading, alk, celsius)
    return CarbonDioxide(
        co2=q(gas, "mg/L"),
        sources=("First acid constant: Plummer & Busenberg 1982, from memory.",),
        working=(
            f"CO2 = 0.8794 x {alk:g} x 10^({carbonic_pk1(celsius):.3f} - {reading:g})"
            f" = {gas:.3g} mg/L",
        ),
    )


register(
    Calculation(
        name="carbon-dioxide",
        title="Free carbon dioxide",
        function=carbon_dioxide,
        answer=CarbonDioxide,
        keys=(PH, ALKALINITY, TEMPERATURE),
    )
)


INDEX_PH = Key(name="ph", kind="number", required=True, low=4, high=11, help="of the water")
INDEX_TEMPERATURE = Key(
    name="temperature",
    unit="degC",
    required=True,
    low=0,
    high=95,
    help="where it matters: cold pipe or heater",
)
TDS = Key(name="tds", unit="mg/L", required=True, low=1, high=10000, help="dissolved solids")
CALCIUM = Key(
    name="calcium_hardness",
    unit="mg/L",
    required=True,
    low=0,
    low_open=True,
    high=5000,
    help="calcium hardness as CaCO3",
)


class SaturationIndex(Answer):
    method: ClassVar[str] = "index/1"

    index: float = result("", "Langelier index: below 0 dissolves lime, above 0 lays it down")
    saturation_ph: float = result("", "pH at which the water neither dissolves nor lays down lime")


def saturation_index(
    *,
    ph: float,
    temperature: Quantity,
    tds: Quantity,
    calcium_hardness: Quantity,
    alkalinity: Quantity,
) -> SaturationIndex:
    """Langelier saturation index.

    LSI = pH - pHs;  pHs = (9.3 + A + B) - (C + D);  A = (log TDS - 1) / 10;
    B = -13.12 log(T) + 34.55;  C = log(Ca as CaCO3) - 0.4;  D = log(alk as CaCO3)

    ph                of the water           [bare]           4 to 11
    temperature       T, kelvin in B         [degC]           0 to 95
    tds               dissolved solids       [concentration]  1 to 10000 mg/L
    calcium_hardness  Ca, as CaCO3           [concentration]  above 0, at most 5000 mg/L
    alkalinity        alk, as CaCO3          [concentration]  above 0, at most 1000 mg/L
    returns           index, saturation_ph, both bare

    Tells the direction, not the amount; other forms differ by up to 0.2. Raises OutOfRange.
    Source: the formula as general water-treatment pages print it (SEEN); Standard Methods / UFC
    3-230-08A Table 2-5 agrees within 0.12.
    """
    reading, celsius = INDEX_PH.amount(ph), INDEX_TEMPERATURE.amount(temperature)
    solids, calcium = TDS.amount(tds), CALCIUM.amount(calcium_hardness)
    alk = ALKALINITY.amount(alkalinity)
    terms = (
        (math.log10(solids) - 1) / 10,
        -13.12 * math.log10(celsius + 273) + 34.55,
        math.log10(calcium) - 0.4,
        math.log10(alk),
    )
    neutral = 9.3 + terms[0] + terms[1] - terms[2] - terms[3]
    return SaturationIndex(
        index=reading - neutral,
        saturation_ph=neutral,
        warnings=("The index tells the direction, not how fast or how much.",),
        sources=("Langelier index in its logarithmic form; compare UFC 3-230-08A Table 2-5.",),
        working=(
            "pHs = 9.3 + {:.3f} + {:.3f} - {:.3f} - {:.3f} = ".format(*terms) + f"{neutral:.2f}",
            f"index = {reading:g} - {neutral:.2f} = {reading - neutral:.2f}",
        ),
    )


register(
    Calculation(
        name="saturation-index",
        title="Saturation index",
        function=saturation_index,
        answer=SaturationIndex,
        keys=(INDEX_PH, INDEX_TEMPERATURE, TDS, CALCIUM, ALKALINITY),
    )
)


DAILY_USE = Key(
    name="daily_use",
    unit="gal",
    required=True,
    low=1,
    high=20000,
    help="water through the neutralizer in a day",
)
TREATED_PH = Key(
    name="treated_ph",
    kind="number",
    low=6,
    high=8.5,
    help="measured after it; without it all carbon dioxide counts, errs high",
)


class Neutralizer(Answer):
    method: ClassVar[str] = "neutralizer/1"

    calcite_per_year: Quantity = result("lb", "calcite dissolved in a year")
    hardness_rise: Quantity = result("mg/L", "hardness and alkalinity added, as CaCO3")
    hardness_rise_gpg: Quantity = result("gpg", "the same in grains per gallon")
    co2: Quantity = result("mg/L", "free carbon dioxide of the raw water")


def neutralizer(
    *,
    ph: float,
    alkalinity: Quantity,
    temperature: Quantity,
    daily_use: Quantity,
    treated_ph: float | None = None,
) -> Neutralizer:
    """Calcite a neutralizer uses in a year, and the hardness it adds.

    CaCO3 + CO2 + H2O = Ca(HCO3)2, 1 mg/L CaCO3 takes 0.4397 mg/L CO2 and adds 1 mg/L alkalinity;
    X = (CO2 - k alk) / (0.4397 + k),  k = 0.8794 10^(pK1 - pH treated), k = 0 without treated_ph

    ph           raw                           [bare]           4.5 to 8.5
    alkalinity   alk, raw, as CaCO3            [concentration]  above 0, at most 1000 mg/L
    temperature  for pK1                       [degC]           0 to 50
    daily_use    through the vessel            [volume]         1 to 20000 gal
    treated_ph   measured after the vessel     [bare]           6 to 8.5, above ph
    returns      calcite_per_year lb, hardness_rise X mg/L as CaCO3, co2 mg/L

    Raises OutOfRange. Source: stoichiometry; Plummer & Busenberg 1982 (MEMORY).
    """
    reading, alk, celsius = (
        PH.amount(ph),
        ALKALINITY.amount(alkalinity),
        TEMPERATURE.amount(temperature),
    )
    gallons, after = DAILY_USE.amount(daily_use), TREATED_PH.optional(treated_ph)
    if after is not None and after <= reading:
        raise OutOfRange("treated_ph", f"must be above ph ({reading:g}), got {after:g}")
    gas = carbon_dioxide_mg_l(reading, alk, celsius)
    left = 0.0 if after is None else carbon_dioxide_mg_l(after, 1.0, celsius)
    rise = (gas - left * alk) / (CO2_PER_CALCITE + left)
    pounds = rise * gallons * LITRES_PER_GALLON * DAYS_PER_YEAR / MG_PER_POUND
    return Neutralizer(
        calcite_per_year=q(pounds, "lb"),
        hardness_rise=q(rise, "mg/L"),
        hardness_rise_gpg=q(rise / MG_PER_L_PER_GPG, "gpg"),
        co2=q(gas, "mg/L"),
        warnings=tuple(_neutralizer_warnings(reading, after)),
        sources=(
            "Stoichiometry of calcite and carbon dioxide; first acid constant Plummer & Busenberg"
            " 1982, from memory.",
        ),
        working=(
            f"CO2 = {gas:.3g} mg/L raw; hardness rise = ({gas:.3g} - {left * alk:.3g}) /"
            f" (0.4397 + {left:.3g}) = {rise:.3g} mg/L as CaCO3",
            f"calcite = {rise:.3g} mg/L x {gallons:g} gal/day x 365.25 = {pounds:.3g} lb/year",
        ),
    )


def _neutralizer_warnings(reading: float, after: float | None) -> list[str]:
    found = []
    if after is None:
        found.append(
            "Counts all carbon dioxide as taken up: give the treated pH for a closer figure."
        )
    if reading < CALCITE_FROM_PH:
        found.append("Below pH 6 calcite alone is slow; a blend with magnesia is common.")
    if reading >= NEUTRAL_PH:
        found.append("At pH 7.5 or more a neutralizer has next to nothing to do.")
    return found


register(
    Calculation(
        name="neutralizer",
        title="Calcite neutralizer",
        function=neutralizer,
        answer=Neutralizer,
        keys=(PH, ALKALINITY, TEMPERATURE, DAILY_USE, TREATED_PH),
    )
)
