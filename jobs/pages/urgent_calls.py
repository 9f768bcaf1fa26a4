"""What is said first where a caller may be in danger, before a visit is booked.

It defers to 911, the health department, the gas supplier and local code. A flooded well, its pump
and what the water may be used for: US EPA, what to do with your private well after a flood (SEEN).
Boiling one minute, and not where nitrate, fuel or chemicals got in: US EPA, emergency disinfection
of drinking water (SEEN). Bottled or boiled water for babies: Connecticut Department of Public
Health, private wells (SEEN). Gas, and no water: common practice, no source.
"""

from __future__ import annotations

from jobs.fieldwork.hazards import FIRST_AID, ODD_TANK

#: (what the caller tells, what is read out, in this order)
URGENT: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "The well was or is under water",
        (
            "Do not turn the well pump on: you can get a shock. Stay away from well and well "
            "pump while "
            "water stands there.",
            "Do not drink it, and do not use it for teeth, ice, infant formula, cooking or "
            "washing. Use bottled water only: boiling does not take out fuel or chemicals.",
            "Unplug the dosing pump if you can reach its plug with dry feet and dry hands.",
            "Somebody who may do electric work looks at the well pump before it runs again; "
            "then the "
            "well is flushed, disinfected and sampled.",
        ),
    ),
    (
        "It smells of gas",
        (
            "Everybody out now. No light, no switch, no flame, and no telephone inside.",
            "Call 911 and the gas supplier from outside. Nobody goes back in until they say so.",
            "If it comes with the water: leave all taps shut.",
        ),
    ),
    (
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
    (
        "A baby, somebody pregnant, or weak immunity in the house",
        (
            "For the baby's bottle and food use bottled water, or boiled for one minute where you "
            "were told that nitrate is not high; with high nitrate bottled water only.",
            "Weak immunity: bottled or boiled water for drinking, teeth and cooking until the "
            "newest test is read to you. The doctor's word comes before ours.",
            "Was there a test for nitrate and bacteria within a year? If not, it comes first.",
        ),
    ),
    (
        "The water stings, smells sharp or is pink, or the dosing pump does not stop",
        (
            "Unplug the dosing pump. Nobody drinks, washes or flushes with the water.",
            ODD_TANK,
            *FIRST_AID,
        ),
    ),
)
#: what the person at the desk does then
THEN = (
    "Ask who else gets water from this well, and whether anybody is on home dialysis.",
    "Find the house and open “do not use the water” before the call ends; ask them to say back to "
    "you what they will do.",
)
