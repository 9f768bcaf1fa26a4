"""Exact factors between units, and the round vessel: one place for all sums.

The registry in `units` defines the units and converts at the boundary of a calculation; inside,
plain floats are multiplied by these. A test compares each with the registry.
"""

from __future__ import annotations

import math

SECONDS_PER_MINUTE, SECONDS_PER_HOUR = 60.0, 3600.0
SECONDS_PER_DAY = 86400.0
MINUTES_PER_DAY, DAYS_PER_WEEK, DAYS_PER_YEAR = 1440.0, 7.0, 365.25
DAYS_PER_MONTH = DAYS_PER_YEAR / 12
KELVIN_AT_0_C = 273.15
INCHES_PER_FOOT = 12.0
METRES_PER_INCH, METRES_PER_FOOT = 0.0254, 0.3048
#: US gallon (NIST Handbook 44, appendix C)
CUBIC_INCHES_PER_GALLON = 231.0
FLUID_OUNCES_PER_GALLON = 128.0
GALLONS_PER_FT3 = INCHES_PER_FOOT**3 / CUBIC_INCHES_PER_GALLON
LITRES_PER_GALLON = 3.785411784
ML_PER_GALLON = 3785.411784
#: avoirdupois pound and ounce (NIST Handbook 44, appendix C)
GRAMS_PER_POUND = 453.59237
GRAMS_PER_OUNCE = GRAMS_PER_POUND / 16
GRAMS_PER_KG, MG_PER_G = 1000.0, 1000.0
MG_PER_POUND, GRAINS_PER_POUND = 453592.37, 7000.0
#: mg/L in a grain per gallon, 17.118
MG_PER_L_PER_GPG = MG_PER_POUND / GRAINS_PER_POUND / LITRES_PER_GALLON
PASCALS_PER_ATM, PASCALS_PER_PSI = 101325.0, 6894.757293168
MPA_PER_ATM, PSI_PER_ATM = PASCALS_PER_ATM / 1e6, PASCALS_PER_ATM / PASCALS_PER_PSI


def circle_ft2(inches: float) -> float:
    """Area of a circle, pi D^2 / 4; diameter in inches."""
    return math.pi / 4 * (inches / INCHES_PER_FOOT) ** 2


def cylinder_gal(inches: float, feet: float) -> float:
    """Gallons in a cylinder, pi D^2 h / 4; diameter in inches, length in feet."""
    return math.pi / 4 * inches**2 * feet * INCHES_PER_FOOT / CUBIC_INCHES_PER_GALLON
