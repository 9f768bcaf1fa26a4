"""What a caller may tell that can hurt: the question, what is read out first, what follows.

It defers to 911, the health department, the gas supplier and local code. A flooded well, its pump
and what the water may be used for: US EPA, what to do with your private well after a flood (SEEN).
Boiling one minute, and not where nitrate, fuel or chemicals got in: US EPA, emergency disinfection
of drinking water (SEEN). Bottled or boiled water for babies: Connecticut Department of Public
Health, private wells (SEEN). Dialysis: UK National Patient Safety Agency 2008, a death after
peroxide in hospital water (SEEN). Gas, no water, electric parts, illness, sewage: common practice,
no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from .hazards import FIRST_AID, ODD_TANK
from .kinds import NoticeCause, NoticeLevel


class Told(StrEnum):
    """What the caller says is so."""

    FLOOD = "flood"
    GAS = "gas"
    STINGS = "stings"
    ELECTRIC = "electric"
    ILL = "ill"
    SEWAGE = "sewage"
    NO_WATER = "no_water"
    WEAK = "weak"
    DIALYSIS = "dialysis"


@dataclass(frozen=True)
class Red:
    """A question asked before anything else, and what a yes means."""

    question: str
    #: how it is said afterwards
    title: str
    #: read out in this order
    lines: tuple[str, ...]
    #: how far the water must be left alone from now on, "" where it need not
    level: str = ""
    cause: str = NoticeCause.OTHER.value


NO_DRINKING, NO_USE = NoticeLevel.NO_DRINKING.value, NoticeLevel.NO_USE.value
BOTTLED = (
    "Nobody drinks the water, and nobody uses it for teeth, ice, infant formula or cooking. "
    "Bottled water, or boiled for one minute where neither fuel nor chemicals can have got in."
)
RED: dict[Told, Red] = {
    Told.FLOOD: Red(
        "Is the well under water, or was it?",
        "The well was or is under water",
        (
            "Do not turn the well pump on: you can get a shock. Stay away from well and well "
            "pump while water stands there.",
            "Do not drink it, and do not use it for teeth, ice, infant formula, cooking or "
            "washing. Use bottled water only: boiling does not take out fuel or chemicals.",
            "Unplug the dosing pump if you can reach its plug with dry feet and dry hands.",
            "Somebody who may do electric work looks at the well pump before it runs again; "
            "then the well is flushed, disinfected and sampled.",
        ),
        NO_DRINKING,
        NoticeCause.FLOOD.value,
    ),
    Told.GAS: Red(
        "Does it smell of gas?",
        "It smells of gas",
        (
            "Everybody out now. No light, no switch, no flame, and no telephone inside.",
            "Call 911 and the gas supplier from outside. Nobody goes back in until they say so.",
            "If it comes with the water: leave all taps shut.",
        ),
    ),
    Told.STINGS: Red(
        "Does the water sting or burn, smell or taste of chlorine, or look pink?",
        "The water stings, smells sharp or is pink, or the dosing pump does not stop",
        (
            "Unplug the dosing pump. Nobody drinks, washes or flushes with the water.",
            ODD_TANK,
            *FIRST_AID,
        ),
        NO_USE,
        NoticeCause.OXIDANT.value,
    ),
    Told.ELECTRIC: Red(
        "Does water run near anything electric, or can it not be shut off?",
        "Water runs near electric parts, or cannot be shut off",
        (
            "Do not touch the water, the pipe or anything wet: leave the room.",
            "Breakers off only with dry hands, on a dry floor. Smoke, sparks or a hot smell: go "
            "out, call 911.",
            "It cannot be shut off: switch off the breaker of the well pump, and unplug the "
            "dosing pump if its plug is dry.",
        ),
    ),
    Told.ILL: Red(
        "Is somebody ill, and may it be the water?",
        "Somebody is ill, and it may be the water",
        (
            "A doctor comes first. Not breathing well, or nobody can wake them: call 911.",
            BOTTLED,
            "Tell the health department. A sample is taken before anything is disinfected.",
        ),
        NO_DRINKING,
        NoticeCause.SUSPECTED.value,
    ),
    Told.SEWAGE: Red(
        "Did sewage run over near the well, or does the water smell of it?",
        "Sewage near the well, or water that smells of it",
        (
            BOTTLED,
            "Keep children and animals away from what ran over, and clean hands with other water.",
            "Whoever looks after the septic system comes first; then the well is disinfected and "
            "sampled.",
        ),
        NO_DRINKING,
        NoticeCause.SUSPECTED.value,
    ),
    Told.NO_WATER: Red(
        "Is there no water at all?",
        "No water comes",
        (
            "Switch the water heater off, and unplug the dosing pump: it may run without water.",
            "Look at the breaker of the well pump. Tripped: switch it on once; again: leave it "
            "off.",
            "Close the taps. When water comes back run a cold outside tap first; cloudy or with "
            "air: nobody drinks it until we called.",
            "Smoke, a hot smell or water near the panel: do not touch it, go out, call 911.",
        ),
    ),
    Told.WEAK: Red(
        "Is there a baby, somebody pregnant, or somebody with weak immunity?",
        "A baby, somebody pregnant, or weak immunity in the house",
        (
            "For the baby's bottle and food use bottled water, or boiled for one minute where you "
            "were told that nitrate is not high; with high nitrate bottled water only.",
            "Weak immunity: bottled or boiled water for drinking, teeth and cooking until the "
            "newest test is read to you. The doctor's word comes before ours.",
            "Was there a test for nitrate and bacteria within a year? If not, it comes first.",
        ),
    ),
    Told.DIALYSIS: Red(
        "Is anybody on home dialysis with this water?",
        "Home dialysis with this water",
        (
            "No treatment with this water until the clinic says so: call the clinic now.",
            "We do not feed or pour anything before the clinic has been told. Ask every house on "
            "this well the same.",
        ),
    ),
}
