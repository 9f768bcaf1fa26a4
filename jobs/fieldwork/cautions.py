"""Cautions shown where they can still change what the hand does, and printed on the record.

They support and never replace the label, the safety sheet, local code and licensed practice.
`mark` says what stands behind the text; MEMORY ones are usual in the trade and on labels.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

DEFERS = (
    "The label and the safety sheet of the product, local code and licensed practice come before "
    "anything printed here."
)


@dataclass(frozen=True)
class Caution:
    """`halt` ones are acknowledged by name on each record, and printed."""

    key: str
    level: Literal["halt", "look-twice", "note"]
    title: str
    text: str
    mark: str
    source: str = ""
    #: shown only where such a part is fitted
    needs: str = ""


def _table(*rows: Caution) -> dict[str, Caution]:
    return {row.key: row for row in rows}


CAUTIONS: dict[str, Caution] = _table(
    Caution(
        "pressure",
        "halt",
        "Stop: no tank is opened while its gauge shows pressure",
        "Isolate, lock the power off and test dead, let the pressure out, watch the gauge go to "
        "zero, then open slowly. Never above the pressure on the plate; never air pressure on a "
        "plastic tank. Electric work where the law asks for a licence is done by who holds it.",
        "PRACTICE",
        "plumbing practice; lock-out as in 29 CFR 1910.147",
    ),
    Caution(
        "pit",
        "halt",
        "Stop: do not go into the pit of the well head",
        "Air in a pit can kill, the first helper as well. Not even for a moment, not to help "
        "somebody: call the fire service. Permit-space rules hold (29 CFR 1910.146).",
        "SEEN",
        "reports of deaths in valve pits; 29 CFR 1910.146",
    ),
    Caution(
        "dialysis",
        "halt",
        "Stop: home dialysis on this water",
        "No disinfection and no oxidant until the clinic has been told by a named person. Chlorine "
        "and peroxide left in the water have harmed patients.",
        "MEMORY",
    ),
    Caution(
        "no-use",
        "halt",
        "Stop: nobody uses this water from now on",
        "Not for drinking, cooking, ice, teeth, washing or animals until the chlorine is out and a "
        "named person lifts the notice on a reading. Give the household the notice in writing "
        "before you pour, and let them draw pails of water first.",
        "SEEN",
        "university extension leaflets on shock chlorination; 4 mg/L: 40 CFR 141.65",
    ),
    Caution(
        "chlorine-mixing",
        "look-twice",
        "Look twice: hypochlorite with anything else",
        "Never with acid, ammonia, peroxide or another product: it gives off poisonous gas. Not in "
        "a tank or line that held one of them. Calcium hypochlorite never with liquid bleach or "
        "anything organic. Eye cover and gloves on, rinse water at hand.",
        "SEEN",
        "safety sheets of hypochlorite",
    ),
    Caution(
        "chlorine-way",
        "look-twice",
        "Look twice: the way the chlorine goes in",
        "Breaker of the well pump off before the cap is opened. Chlorine without scent, thickener "
        "or other additives. For the house through an opened filter housing without pressure, or "
        "all of it by the well: never into a tee, never through the dosing pump. A strip at the "
        "farthest tap says that it is there, not the smell.",
        "SEEN",
        "without additives: Minnesota Department of Health, disinfecting a well; rest: common "
        "practice, no source",
    ),
    Caution(
        "oxidant",
        "halt",
        "Stop: eye cover and gloves before the solution is touched",
        "Peroxide can damage eyes for good, weak solutions too where the supplier's sheet for that "
        "strength does not say otherwise; hypochlorite "
        "and permanganate burn and must never meet peroxide. Vented caps only; never between two "
        "closed valves. Dilute with water only, in a clean vessel. In the eye: rinse at once "
        "with clean running water for 15 to 20 minutes, lenses out, then call Poison Help.",
        "SEEN",
        "safety sheets of the suppliers; first aid: HRSA, Poison Help",
    ),
    Caution(
        "permanganate",
        "look-twice",
        "Look twice: pink at a tap means stop",
        "Permanganate is a strong oxidiser, stains and is harmful. Never on anything that burns, "
        "never with peroxide.",
        "MEMORY",
    ),
    Caution(
        "bypass",
        "look-twice",
        "Look twice: BYPASS (untreated) means unplug the dosing pump",
        "With the tanks in BYPASS the well pump still starts it, and the solution goes to the "
        "kitchen.",
        "PRACTICE",
        needs="feeder",
    ),
    Caution(
        "feeder-stop",
        "look-twice",
        "Look twice: a dosing pump that does not stop",
        "It fills the pipe with strong solution, and the first glass burns a mouth. Not passed "
        "twice: unplug it and leave it unplugged.",
        "SEEN",
        "feeders interlocked so that they cannot run alone: 35 Ill. Adm. Code 604.1105",
    ),
    Caution(
        "electricity",
        "look-twice",
        "Look twice: where its current comes from",
        "Always live means it runs without the well pump. Voltage of circuit and dosing pump "
        "must be the same. "
        "Wet floor: protected outlet. A drive's motor leads never feed it.",
        "PRACTICE",
    ),
    Caution(
        "air-gap",
        "look-twice",
        "Look twice: drain water must not come back",
        "The drain line ends above the rim of what takes it, with an air gap of twice its bore and "
        "at least 1 inch unless local code says more.",
        "SEEN",
        "municipal plumbing code (twice the bore); 1 inch: MEMORY",
    ),
    Caution(
        "septic",
        "look-twice",
        "Look twice: where the water goes",
        "Chlorinated water, water of the dial-back and full backwashes go onto ground away "
        "from the "
        "well, the septic system, plants, ditch, pond and stream. Local discharge rules come "
        "first.",
        "SEEN",
        "Vermont Department of Health; Frederick County MD, disinfecting a well",
    ),
    Caution(
        "first-service",
        "look-twice",
        "Look twice: the first water is not for the house",
        "Fines and colour of new media stain laundry and block screens; air knocks in the pipes. "
        "Hot water off, screens of the taps out, cold first at an outside or laundry tap until it "
        "is clear and still. Nobody drinks it before the readings of today and, after chlorine, "
        "before the notice is lifted.",
        "PRACTICE",
    ),
    Caution(
        "pressure-plate",
        "look-twice",
        "Look twice: pressure and temperature on the plate",
        "Compare with the cut-out before the valve is opened. Draining from below can collapse a "
        "tank without a vacuum breaker.",
        "PRACTICE",
    ),
)

#: stops that are read by name on a visit at most, the gravest of those its pages show
READ_BY_NAME = 3
GRAVEST_FIRST = ("dialysis", "pit", "no-use", "oxidant", "pressure")
#: what the act of pouring chlorine shows above its button
BEFORE_POURING = ("dialysis", "no-use", "chlorine-way", "chlorine-mixing")
#: a well head in a pit changes what stands first on a page
PIT, PIT_REPLACES = "pit", "pressure"


def is_red(key: str) -> bool:
    """A stop, which is read by name on each record."""
    return key in CAUTIONS and CAUTIONS[key].level == "halt"
