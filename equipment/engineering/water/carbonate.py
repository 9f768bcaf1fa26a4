"""Carbonate in water: constants, what is bicarbonate and carbonate, saturation with calcite.

Contents: carbonic_pk1, Carbonate, carbonate_of, ionic_strength.

Constants of Plummer & Busenberg, Geochim. Cosmochim. Acta 46 (1982) 1011, as Standard Methods 2330
takes them (MEMORY); activities by Davies; the pairs of calcium with bicarbonate and carbonate are
counted. Compared with the model PHREEQC (US Geological Survey) in fixtures/published.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from equipment.engineering.factors import KELVIN_AT_0_C

#: log K = a + b T + c / T + d log T + e / T^2
FIRST = (-356.3094, -0.06091964, 21834.37, 126.8339, -1684915.0)
SECOND = (-107.8871, -0.03252849, 5151.79, 38.92561, -563713.9)
CALCITE = (-171.9065, -0.077993, 2839.319, 71.595, 0.0)
BICARBONATE_PAIR = (1209.12, 0.31294, -34765.05, -478.782, 0.0)
CARBONATE_PAIR = (-1228.732, -0.299444, 35512.75, 485.818, 0.0)
WATER = (6.0875, -0.01706, -4470.99, 0.0, 0.0)
#: dielectric constant of water by degC, and the Debye-Hueckel factor made of it
DIELECTRIC = (87.74, -0.4008, 9.398e-4, -1.41e-6)
DEBYE = 1.82e6
DAVIES = 0.3
#: mol/L of ions for a mg/L of dissolved solids
IONIC_PER_TDS = 2.5e-5
#: mg of CaCO3 in an equivalent, mg of Ca and of CO2 in a mole
MG_PER_EQUIVALENT, MG_PER_MOLE_CALCIUM, MG_PER_MOLE_CO2 = 50044.0, 40078.0, 44010.0
MG_PER_MOLE_CALCITE = 2 * MG_PER_EQUIVALENT
STEPS, STILL = 100, 1e-12


@dataclass(frozen=True)
class Carbonate:
    """What a water holds: mg/L of free carbon dioxide, and log of its calcite over saturation."""

    co2_mg_l: float
    index: float


def _log_k(terms: tuple[float, ...], kelvin: float) -> float:
    a, b, c, d, e = terms
    return a + b * kelvin + c / kelvin + d * math.log10(kelvin) + e / kelvin**2


def carbonic_pk1(celsius: float) -> float:
    """pK1 of carbonic acid at 0 to 90 degC, no salt."""
    return -_log_k(FIRST, celsius + KELVIN_AT_0_C)


def ionic_strength(tds_mg_l: float) -> float:
    return IONIC_PER_TDS * tds_mg_l


def activity(charge: int, ions: float, celsius: float) -> float:
    """Davies: log g = -A z^2 (sqrt I / (1 + sqrt I) - 0.3 I)."""
    dielectric = math.fsum(term * celsius**power for power, term in enumerate(DIELECTRIC))
    factor = DEBYE * (dielectric * (celsius + KELVIN_AT_0_C)) ** -1.5
    root = math.sqrt(ions)
    gamma: float = 10 ** (-factor * charge**2 * (root / (1 + root) - DAVIES * ions))
    return gamma


def carbonate_of(
    ph: float, celsius: float, alkalinity_mg_l: float, calcium_mg_l: float, tds_mg_l: float
) -> Carbonate:
    """From pH, alkalinity as CaCO3 and calcium as Ca (0 for none), in mg/L."""
    kelvin, ions = celsius + KELVIN_AT_0_C, ionic_strength(tds_mg_l)
    one, two = activity(1, ions, celsius), activity(2, ions, celsius)
    k1, k2, kw = (10 ** _log_k(terms, kelvin) for terms in (FIRST, SECOND, WATER))
    pair, pair2 = (10 ** _log_k(terms, kelvin) for terms in (BICARBONATE_PAIR, CARBONATE_PAIR))
    acid = 10**-ph
    alkalinity = alkalinity_mg_l / MG_PER_EQUIVALENT - kw / (acid * one) + acid / one
    calcium = free = calcium_mg_l / MG_PER_MOLE_CALCIUM
    for _ in range(STEPS):
        bicarbonate = alkalinity / (
            1
            + 2 * k2 * one / (acid * two)
            + pair * free * two
            + 2 * pair2 * free * two * k2 * one / acid
        )
        carbonate = k2 * bicarbonate * one / acid
        last, free = free, calcium / (1 + pair * bicarbonate * two + pair2 * carbonate * two)
        if abs(free - last) <= STILL * calcium:
            break
    index = -math.inf
    if free > 0 and carbonate > 0:
        index = math.log10(free * two * carbonate) - _log_k(CALCITE, kelvin)
    return Carbonate(MG_PER_MOLE_CO2 * bicarbonate * one * acid / k1, index)
