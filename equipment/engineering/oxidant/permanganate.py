"""Permanganate: what the water asks for, the most that may be fed, and runs of a greensand bed.

Contents: permanganate.
"""

from __future__ import annotations

import math
from typing import ClassVar

from equipment.engineering.errors import OutOfRange
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

from .oxidants import (
    IRON,
    MANGANESE,
    MG_L,
    ORGANICS,
    STOICHIOMETRY,
    SULFIDE,
    ratio_iron,
    ratio_manganese,
    ratio_sulfide,
)

#: the most that may be fed, by the need (common practice, no source)
CEILING_SHARE, CEILING_MORE = 1.2, 0.3
#: gal mg/L of iron that a cubic foot of greensand takes; manganese and sulfide count more
#: (common practice, no source)
GREENSAND_LOAD, MANGANESE_WEIGHT, SULFIDE_WEIGHT = 10_000.0, 2.0, 5.0
#: oz of permanganate for a cubic foot at each regeneration (common practice, no source)
REGENERANT_OZ = (1.5, 2.0)
BED = Key(
    name="bed_volume", unit="ft3", low=0.1, high=50, help="greensand, regenerated now and then"
)


class Permanganate(Answer):
    method: ClassVar[str] = "permanganate/1"

    need: Quantity = result(MG_L, "permanganate this water asks for; none is left over")
    ceiling: Quantity = result(MG_L, "the most that may be fed")
    gallons_between: Quantity | None = result("gal", "water between regenerations of the bed")
    regenerant_low: Quantity | None = result("oz", "permanganate for each regeneration, least")
    regenerant_high: Quantity | None = result("oz", "permanganate for each regeneration, most")


def permanganate(
    *,
    iron: Quantity | None = None,
    manganese: Quantity | None = None,
    sulfide: Quantity | None = None,
    organics: Quantity | None = None,
    bed_volume: Quantity | None = None,
) -> Permanganate:
    """Need of permanganate, its ceiling, and the run of a greensand bed that is regenerated.

    need = 0.943 Fe + 1.918 Mn + 3.09 H2S + organics;  ceiling = 1.2 need + 0.3 mg/L;
    gallons = 10,000 V / (Fe + 2 Mn + 5 H2S)

    iron, manganese, sulfide  [concentration]  0 to 200, 50, 100 mg/L, sulfide as H2S, to sulfur
    organics    extra permanganate, as told    [concentration]  0 to 50 mg/L
    bed_volume  V, intermittent greensand      [volume]  0.1 to 50 ft3
    returns     need, ceiling mg/L as KMnO4; gallons_between gal, regenerant oz

    No residual is wanted: the water leaves colourless. Raises OutOfRange, also where nothing is
    there to oxidize. Source: stoichiometry; no residual: EPA 815-R-99-014 chapter 5 (SEEN); ceiling
    and greensand: common practice, no source.
    """
    found = {
        key.name: key.optional(value) or 0.0
        for key, value in ((IRON, iron), (MANGANESE, manganese), (SULFIDE, sulfide))
    }
    ratios = {
        "iron": ratio_iron("permanganate"),
        "manganese": ratio_manganese("permanganate"),
        "sulfide": ratio_sulfide("permanganate"),
    }
    need = math.fsum(ratios[name] * size for name, size in found.items())
    need += ORGANICS.optional(organics) or 0.0
    if need == 0:
        raise OutOfRange("iron", "is 0 and so is the rest: there is nothing to oxidize")
    bed = BED.optional(bed_volume)
    weighed = (
        found["iron"] + MANGANESE_WEIGHT * found["manganese"] + SULFIDE_WEIGHT * found["sulfide"]
    )
    gallons = GREENSAND_LOAD * bed / weighed if bed and weighed else None
    low, high = (bed and bed * ounces for ounces in REGENERANT_OZ)
    return Permanganate(
        need=q(need, MG_L),
        ceiling=q(CEILING_SHARE * need + CEILING_MORE, MG_L),
        gallons_between=q(gallons, "gal"),
        regenerant_low=q(low, "oz"),
        regenerant_high=q(high, "oz"),
        cautions=(
            "Pink water behind the bed: dosing pump off, flush to waste, bypass the house. It "
            "is no step"
            " of the setting.",
            "Permanganate stains and burns: goggles and gloves, follow the label.",
        ),
        sources=(
            STOICHIOMETRY,
            "No residual: EPA 815-R-99-014, chapter 5.",
            "Ceiling, greensand run and regenerant: common practice, no source.",
        ),
        working=(
            "need = "
            + " + ".join(f"{size:g} x {ratios[name]:.3f}" for name, size in found.items())
            + f" = {need:.3g} mg/L",
        ),
    )


register(
    Calculation(
        name="permanganate",
        title="Permanganate: need, ceiling and greensand runs",
        function=permanganate,
        answer=Permanganate,
        keys=(IRON, MANGANESE, SULFIDE, ORGANICS, BED),
    )
)
