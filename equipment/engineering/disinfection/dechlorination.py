"""Taking chlorine out of water that is being discarded.

Contents: dechlorination.
"""

from __future__ import annotations

from typing import ClassVar

from equipment.engineering.errors import WrongInput
from equipment.engineering.factors import GRAMS_PER_OUNCE, LITRES_PER_GALLON
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity, ranged

from .shock import (
    GAL,
    LARGEST_VOLUME_GAL,
    MG_PER_L,
)

STRONGEST_MG_L = 2000.0
#: mg of agent per mg of chlorine: field values at pH 7 of the AWWA field guide on disinfection
#: of pipelines and storage facilities, table 7-2 (SEEN-2nd). That table's 1.9 for thiosulfate is
#: read as the usual crystals (pentahydrate); anhydrous by molar mass 158.11 / 248.18.
AGENT_RATIOS = {
    "ascorbic-acid": 2.5,
    "thiosulfate-pentahydrate": 1.9,
    "thiosulfate-anhydrous": 1.9 * 158.11 / 248.18,
    "sulfite": 1.96,
}


class Dechlorination(Answer):
    method: ClassVar[str] = "dechlorination/1"

    agent_mass: Quantity = result("oz", "agent to start with; confirm by test strip")


def dechlorination(*, volume: Quantity, residual: Quantity, agent: str) -> Dechlorination:
    """Agent to neutralize the chlorine in water that is being discarded.

    m = k V C

    volume    V, water to neutralize  [gal]   above 0 to 100000
    residual  C, free chlorine        [mg/L]  above 0 to 2000
    agent     ascorbic-acid (k 2.5), thiosulfate-pentahydrate (1.9), thiosulfate-anhydrous
              (1.21), sulfite (1.96)
    returns   agent_mass oz

    Raises OutOfRange, WrongInput naming the key.
    Source: AWWA Disinfection of Pipelines and Storage Facilities Field Guide, table 7-2
    (SEEN-2nd): field values at pH 7, to be checked on site.
    """
    gallons = ranged("volume", volume, GAL, 0.0, LARGEST_VOLUME_GAL, low_open=True)
    chlorine = ranged("residual", residual, MG_PER_L, 0.0, STRONGEST_MG_L, low_open=True)
    if agent not in AGENT_RATIOS:
        raise WrongInput("agent", f"must be one of {', '.join(AGENT_RATIOS)}")
    grams = AGENT_RATIOS[agent] * gallons * LITRES_PER_GALLON * chlorine / 1000
    return Dechlorination(
        agent_mass=q(grams / GRAMS_PER_OUNCE, "oz"),
        cautions=(
            "Never into the well or the house pipes: only into water run to waste.",
            "Check with a test strip and stop at 0.1 mg/L; sulfur agents also take oxygen from"
            " the water.",
            "Discharge to surface water or a sewer needs a permit; follow local code.",
        ),
        sources=("AWWA field guide on disinfection of pipelines and storage, table 7-2.",),
        working=(
            f"agent = {AGENT_RATIOS[agent]:.3g} mg/mg x {gallons:g} gal x 3.785 L/gal x"
            f" {chlorine:g} mg/L = {grams:.4g} g",
        ),
    )


register(
    Calculation(
        name="dechlorination",
        title="Neutralizing agent for chlorinated waste water",
        function=dechlorination,
        answer=Dechlorination,
        keys=(
            Key(
                name="volume",
                unit=GAL,
                required=True,
                low=0,
                low_open=True,
                high=LARGEST_VOLUME_GAL,
                help="water to neutralize",
            ),
            Key(
                name="residual",
                unit=MG_PER_L,
                required=True,
                low=0,
                low_open=True,
                high=STRONGEST_MG_L,
                help="free chlorine in it",
            ),
            Key(
                name="agent",
                kind="choice",
                choices=tuple(AGENT_RATIOS),
                required=True,
                help="neutralizing agent",
            ),
        ),
    )
)
