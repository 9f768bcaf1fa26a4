"""How high a bed rises in a wash, and the rate at which it reaches the top of the vessel.

Contents: RATE, RATE_HIGH, FREEBOARD, Sheet, sheet_of, lift, room_of, free_height_in, most_rate.

Of the model of the expansion only ratios are taken, as the grain is not known well: a medium's own
rate is taken to give the expansion it aims at.
"""

from __future__ import annotations

from dataclasses import dataclass

from equipment.engineering.errors import MissingInput, WrongInput
from equipment.engineering.factors import LITRES_PER_GALLON, METRES_PER_FOOT
from equipment.engineering.registry import Key
from equipment.engineering.units import Quantity

from . import expansion
from .media import SAND_GRAIN, Grain, medium
from .vessel import BED_DEPTH, FREEBOARD_PERCENT

#: height of a dome by the diameter, ellipse of 2 to 1, and its volume by the cylinder around it
DOME_SHARE, DOME_FULL = 0.25, 2 / 3
#: the washed bed may rise by this share of the room above it (PRACTICE)
ROOM_USED = 0.8
M_H_PER_GPM_FT2 = LITRES_PER_GALLON / 1000 * 60 / (METRES_PER_FOOT**2)

RATE = Key(
    name="rate",
    unit="gpm/ft2",
    low=1,
    high=40,
    help="backwash rate of the medium's own sheet, in place of the table",
)
RATE_HIGH = Key(
    name="rate_high",
    unit="gpm/ft2",
    low=1,
    high=40,
    help="highest backwash rate of that sheet, beside rate",
)
FREEBOARD = Key(
    name="freeboard",
    unit="in",
    low=0,
    low_open=True,
    high=120,
    help="free height above the bed, with bed_depth; the medium's usual room when not given",
)


@dataclass(frozen=True)
class Sheet:
    """What is known of the medium: its rates, the grain, the usual room above it, the source."""

    low: float
    high: float
    grain: Grain
    room: float
    source: str
    #: rate of the table: held to the grain as well
    by_grain: bool = False


def sheet_of(slug: str | None, rate: float | None, high: float | None) -> Sheet:
    """The medium's own sheet if a rate is given, else the table."""
    if slug is None and rate is None:
        raise MissingInput("media", "is missing; give media or rate")
    material = None if slug is None else medium("media", slug)
    grain = material.grain if material else SAND_GRAIN
    room = material.freeboard if material else FREEBOARD_PERCENT / 100
    if rate is not None:
        if high is not None and high < rate:
            raise WrongInput("rate_high", f"must be at least the rate, {rate:g} gpm/ft2")
        return Sheet(rate, high or rate, grain, room, "Backwash rate as given.")
    assert material is not None
    source = f"{material.title}: {material.rate_source}."
    return Sheet(*material.rate, grain, room, source, by_grain=True)


def lift(sheet: Sheet, celsius: float, share: float | None = None) -> float:
    """Upflow m/h of the model grain for the expansion its rate aims at, or for a share."""
    grain = sheet.grain
    aimed = grain.expansion if share is None else share
    shape = (grain.diameter_mm, grain.specific_gravity, grain.porosity)
    return expansion.rate_for_expansion_m_h(*shape, aimed, celsius)


def room_of(sheet: Sheet, bed_depth: Quantity | None, freeboard: Quantity | None) -> float:
    """Free height above the bed by the depth of the bed."""
    depth, free = BED_DEPTH.optional(bed_depth), FREEBOARD.optional(freeboard)
    if depth is None and free is not None:
        raise MissingInput("bed_depth", "is missing; the room counts by the depth of the bed")
    return sheet.room if depth is None or free is None else free / depth


def free_height_in(diameter_in: float, height_in: float, bed_in: float) -> float:
    """Height above a bed: gravel fills the lower dome, the upper one counts by its volume.

    Source: geometry of an elliptical head of 2 to 1: a quarter of the diameter high, two thirds of
    the cylinder around it.
    """
    return height_in - (2 - DOME_FULL) * DOME_SHARE * diameter_in - bed_in


def most_rate(sheet: Sheet, room: float, celsius: float, stated: float) -> float:
    """gpm/ft2 that lifts the bed into 0.8 of the room above it."""
    lifted = lift(sheet, celsius, ROOM_USED * room)
    most = sheet.high * lifted / lift(sheet, stated)
    return min(most, lifted / M_H_PER_GPM_FT2) if sheet.by_grain else most
