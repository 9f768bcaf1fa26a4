"""A calcite neutralizer: the calcite it uses, the hardness it adds, the pH it can reach.

Contents: neutralizer.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
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

from .balance import (
    ALKALINITY,
    CALCIUM,
    CO2_PER_CALCITE,
    CONSTANTS,
    PH,
    SOLIDS_PER_ALKALINITY,
    TDS,
    TEMPERATURE,
    Held,
    held,
    ph_at,
)

#: below this calcite alone is slow (PRACTICE)
CALCITE_FROM_PH = 6.0
#: above this a neutralizer has nothing to do (PRACTICE)
NEUTRAL_PH = 7.5
#: index that a bed ends at: full with the longest stay, short of it in a usual bed (PRACTICE)
LONGEST_STAY, SHORT_STAY = 0.0, -0.7
#: what two readings of pH may differ by (PRACTICE)
PH_READING = 0.2
LEAST_CHANGE = 1e-9
#: the salt of what is taken up changes little: two passes settle it
PASSES = 2

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
    help="measured after it; without it the longest stay counts, errs high",
)


class Neutralizer(Answer):
    method: ClassVar[str] = "neutralizer/2"

    calcite_per_year: Quantity = result("lb", "calcite dissolved in a year")
    hardness_rise: Quantity = result("mg/L", "hardness and alkalinity added, as CaCO3")
    hardness_rise_gpg: Quantity = result("gpg", "the same in grains per gallon")
    treated_ph: float = result("", "pH after it: measured, or the highest that calcite gives")
    short_stay_rise: Quantity | None = result("mg/L", "hardness added by a usual, short bed")
    short_stay_ph: float | None = result("", "pH after a usual, short bed")
    co2: Quantity = result("mg/L", "free carbon dioxide of the raw water")


def neutralizer(
    *,
    ph: float,
    alkalinity: Quantity,
    temperature: Quantity,
    daily_use: Quantity,
    treated_ph: float | None = None,
    calcium_hardness: Quantity | None = None,
    tds: Quantity | None = None,
) -> Neutralizer:
    """Calcite a neutralizer uses in a year, the hardness it adds, and the pH it can reach.

    CaCO3 + CO2 + H2O = Ca(HCO3)2: 1 mg/L CaCO3 takes 0.4397 mg/L CO2 and adds 1 mg/L alkalinity;
    X = (CO2 - k alk) / (0.4397 + k),  k = CO2 of 1 mg/L alkalinity at the pH after;
    that pH is measured, or the one where the water with X is saturated with calcite (index 0);
    a usual, short bed ends at an index of -0.7 (PRACTICE)

    ph           raw                           [bare]           4.5 to 8.5
    alkalinity   alk, raw, as CaCO3            [concentration]  above 0, at most 1000 mg/L
    temperature  for the constants             [degC]           0 to 50
    daily_use    through the vessel            [volume]         1 to 20000 gal
    treated_ph   measured after the vessel     [bare]           6 to 8.5, above ph
    calcium_hardness  raw, as CaCO3            [concentration]  0 to 2000 mg/L, default 0
    tds          dissolved solids              [concentration]  1 to 3000 mg/L, default 1.6 alk
    returns      calcite_per_year lb, hardness_rise X mg/L as CaCO3, pH bare, co2 mg/L

    X within 4 percent and pH within 0.05 of PHREEQC. Raises OutOfRange.
    Source: stoichiometry; Plummer & Busenberg 1982 (MEMORY).
    """
    raw = held(
        PH.amount(ph),
        TEMPERATURE.amount(temperature),
        ALKALINITY.amount(alkalinity),
        CALCIUM.optional(calcium_hardness) or 0.0,
        TDS.optional(tds),
    )
    gallons, after = DAILY_USE.amount(daily_use), TREATED_PH.optional(treated_ph)
    if after is not None and after <= raw.ph:
        raise OutOfRange("treated_ph", f"must be above ph ({raw.ph:g}), got {after:g}")
    full = _end(raw, LONGEST_STAY)
    short = None if after is not None else _end(raw, SHORT_STAY)
    end = full if after is None else _Ending(after, _rise(raw, after))
    pounds = end.rise * gallons * LITRES_PER_GALLON * DAYS_PER_YEAR / MG_PER_POUND
    return Neutralizer(
        calcite_per_year=q(pounds, "lb"),
        hardness_rise=q(end.rise, "mg/L"),
        hardness_rise_gpg=q(end.rise / MG_PER_L_PER_GPG, "gpg"),
        treated_ph=end.ph,
        short_stay_rise=q(short.rise if short else None, "mg/L"),
        short_stay_ph=short.ph if short else None,
        co2=q(raw.state[0], "mg/L"),
        warnings=tuple(_neutralizer_warnings(raw, after, full)),
        sources=("Stoichiometry of calcite and carbon dioxide.", CONSTANTS),
        working=(
            f"CO2 = {raw.state[0]:.3g} mg/L raw; at pH {end.ph:.2f} the water has taken up"
            f" {end.rise:.3g} mg/L as CaCO3",
            f"calcite = {end.rise:.3g} mg/L x {gallons:g} gal/day x 365.25 = {pounds:.3g} lb/year",
        ),
    )


@dataclass(frozen=True)
class _Ending:
    """Water behind the bed: its pH, and the mg/L as CaCO3 it took up."""

    ph: float
    rise: float


def _rise(raw: Held, ph: float) -> float:
    """Calcite taken up when the pH is this one: the closed balance of carbon dioxide."""
    rise, gas = 0.0, raw.state[0]
    for _ in range(PASSES):
        solids = raw.solids + SOLIDS_PER_ALKALINITY * rise
        none, one = (
            replace(raw, ph=ph, alkalinity=alk, calcium=0.0, solids=solids).state[0]
            for alk in (0.0, 1.0)
        )
        left = one - none
        rise = max(0.0, (gas - none - left * raw.alkalinity) / (CO2_PER_CALCITE + left))
    return rise


def _behind(raw: Held, ph: float) -> Held:
    rise = _rise(raw, ph)
    return replace(
        raw,
        ph=ph,
        alkalinity=raw.alkalinity + rise,
        calcium=raw.calcium + rise,
        solids=raw.solids + SOLIDS_PER_ALKALINITY * rise,
    )


def _end(raw: Held, index: float) -> _Ending:
    """Where the index behind the bed is this; nothing is taken up where the raw one is above it."""
    found = ph_at(lambda ph: _behind(raw, ph).state[1], index, raw.ph + LEAST_CHANGE)
    return _Ending(raw.ph, 0.0) if found is None else _Ending(found, _rise(raw, found))


def _neutralizer_warnings(raw: Held, after: float | None, full: _Ending) -> list[str]:
    found = []
    if after is None:
        found.append(
            "The longest stay in the bed is taken, which errs high: give the treated pH for a"
            " closer figure."
        )
    elif after > full.ph + PH_READING:
        found.append(
            f"Calcite alone cannot bring this water above pH {full.ph:.1f}: gas was lost before the"
            " reading, or the bed holds magnesia. The hardness counted is too low."
        )
    if raw.ph < CALCITE_FROM_PH:
        found.append("Below pH 6 calcite alone is slow; a blend with magnesia is common.")
    if raw.ph >= NEUTRAL_PH or full.rise == 0:
        found.append("A neutralizer has next to nothing to do in this water.")
    return found


register(
    Calculation(
        name="neutralizer",
        title="Calcite neutralizer",
        function=neutralizer,
        answer=Neutralizer,
        keys=(PH, ALKALINITY, TEMPERATURE, DAILY_USE, TREATED_PH, CALCIUM, TDS),
    )
)
