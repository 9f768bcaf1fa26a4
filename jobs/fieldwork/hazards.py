"""What an oxidant does to people and what to do then, for the sheet and the label of a tank.

It defers to the label and the supplier's safety sheet, local code and licensed practice. Rinsing 15
to 20 minutes, then Poison Help: HRSA (SEEN). Spills never to a septic system or sump; chlorine
never with acid or ammonia: safety sheets of the products (SEEN). Labels on tanks that nobody
attends: University of Kentucky (SEEN).
"""

from __future__ import annotations

from equipment.engineering.names import Oxidant

#: where the supplier's sheet for that strength is not on file
NO_CLASS = "can damage eyes"
FIRST_AID = (
    "In the eye: rinse at once with clean running water for 15 to 20 minutes, lenses out, then "
    "call Poison Help.",
    "On the skin: clothes off, rinse for 15 to 20 minutes.",
    "Swallowed: rinse the mouth, do not make yourself vomit, call Poison Help at once.",
    "Breathed in: out into fresh air. Not breathing, or not awake: call 911.",
)
SPILL = (
    "A small spill: dilute with much water and mop up. A larger one: keep away and call.",
    "Never into a septic system, a sump, a ditch or a stream.",
)
HANDS = (
    "Eye cover and gloves before the tank is opened; children and animals away.",
    "Dilute with water only, in a clean vessel. Vented caps only; never shut in by two valves.",
)
APART: dict[str, tuple[str, ...]] = {
    Oxidant.PEROXIDE: (
        "Hydrogen peroxide: strong oxidiser. Never with chlorine, permanganate, metal, rust or "
        "anything that burns: it foams, heats and bursts what holds it.",
    ),
    Oxidant.CHLORINE: (
        "Chlorine solution: burns eyes and skin. Never with acid, ammonia, peroxide or another "
        "cleaner: poisonous gas.",
    ),
    Oxidant.PERMANGANATE: (
        "Permanganate: strong oxidiser, stains. Never on anything that burns, never with peroxide "
        "or acid.",
    ),
}
BYPASS = (
    "SERVICE (treated). BYPASS (untreated): unplug the dosing pump first, or its solution goes to "
    "the taps.",
)


#: for whoever lives with it (common practice, no source)
ODD_WATER = (
    "water that bubbles, stings, smells sharp or is pink, or a dosing pump that runs while no "
    "water runs: unplug the dosing pump, use no water, call us."
)
ODD_TANK = "A solution tank that is warm, hissing or bulging: leave the room, call 911, then us."
#: what to know, each with the subject of a checklist it is about
KNOW = (
    ("vessel", "In the first days the water may look white with air, and clear from the bottom."),
    ("softener", "Softened water carries more sodium: tell a doctor who counts it."),
    ("washing", "After a power cut look at the clock of each controller."),
)


def signal(safety_class: str) -> str:
    return safety_class.strip().rstrip(".") or NO_CLASS
