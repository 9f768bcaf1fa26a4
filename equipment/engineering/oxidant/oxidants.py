"""What iron, manganese, sulfide and ammonia use up of an oxidant.

Contents: oxidant_demand, and the mass ratios it rests on.
"""

from __future__ import annotations

import math
from typing import ClassVar

from equipment.engineering.errors import WrongInput
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

MG_L = "mg/L"
#: molar masses in g/mol (IUPAC standard atomic weights, conventional values)
IRON_MASS = 55.845
MANGANESE_MASS = 54.938
SULFUR_MASS = 32.065
HYDROGEN_SULFIDE_MASS = 34.081
NITROGEN_MASS = 14.007
OXYGEN_MASS = 31.999
OXIDANT_MASS = {
    "peroxide": 34.0147,
    "chlorine": 70.906,
    "permanganate": 158.034,
    "ozone": 47.998,
}
#: electrons one molecule takes up (permanganate to MnO2 in neutral water; one O atom of ozone)
ELECTRONS_TAKEN = {"peroxide": 2, "chlorine": 2, "permanganate": 3, "ozone": 2}
#: electrons given: Fe(II) to Fe(III), Mn(II) to MnO2, sulfide to S or to sulfate
IRON_ELECTRONS = 1
MANGANESE_ELECTRONS = 2
SULFIDE_ELECTRONS = {"sulfur": 2, "sulfate": 8}
SULFIDE_MASS = {"h2s": HYDROGEN_SULFIDE_MASS, "s": SULFUR_MASS}
#: breakpoint: 3 Cl2 for 2 NH3, so 1.5 mol Cl2 per mol of nitrogen
CHLORINE_PER_NITROGEN = 1.5
#: 2 H2O2 -> 2 H2O + O2
OXYGEN_PER_PEROXIDE = OXYGEN_MASS / (2 * OXIDANT_MASS["peroxide"])
#: H2O2 + Cl2 -> 2 HCl + O2
CHLORINE_PER_PEROXIDE = OXIDANT_MASS["chlorine"] / OXIDANT_MASS["peroxide"]
#: common practice, no source: dose this many times the stoichiometric sum
ALLOWANCE = 1.5
ALLOWANCE_WITH_SULFIDE = 2.0
#: common practice, no source: below this pH iron oxidizes too slowly to rely on the tank
SLOW_IRON_PH = 6.5

STOICHIOMETRY = "Stoichiometry of the balanced reactions, IUPAC standard atomic weights."
ALLOWANCE_SOURCE = "Allowance 1.5, with sulfide 2: common practice, no source."
NOT_TOGETHER = (
    "Never feed or mix chlorine and peroxide together, flush one out before the other is used: "
    "they destroy each other "
    f"(1 mg peroxide takes {CHLORINE_PER_PEROXIDE:.3f} mg chlorine) and give off oxygen; "
    "concentrates can burst a closed container."
)
FOLLOW_LABEL = (
    "Strong oxidant: wear goggles and gloves, follow the product label and the safety data "
    "sheet, and use only a product certified for drinking water."
)

OXIDANT = Key(
    name="oxidant",
    kind="choice",
    choices=tuple(OXIDANT_MASS),
    required=True,
    help="peroxide (as H2O2), chlorine (as Cl2), permanganate (as KMnO4) or ozone",
)
IRON = Key(name="iron", unit=MG_L, low=0, high=200, help="iron in the raw water")
MANGANESE = Key(name="manganese", unit=MG_L, low=0, high=50, help="manganese in the raw water")
SULFIDE = Key(
    name="sulfide",
    unit=MG_L,
    low=0,
    high=100,
    help="sulfide in the raw water; sulfide_as says how it is stated",
)
AMMONIA = Key(
    name="ammonia",
    unit=MG_L,
    low=0,
    high=50,
    help="ammonia as nitrogen in the raw water (counts for chlorine only)",
)
ORGANICS = Key(
    name="organics",
    unit=MG_L,
    low=0,
    high=50,
    help="extra oxidant for tannin and other organic matter, added after the allowance",
)
SULFIDE_AS = Key(
    name="sulfide_as",
    kind="choice",
    choices=("h2s", "s"),
    default="h2s",
    help="whether sulfide is stated as H2S or as S",
)
SULFIDE_TO = Key(
    name="sulfide_to",
    kind="choice",
    choices=("sulfur", "sulfate"),
    default="sulfur",
    help="product of the oxidation; sulfate takes four times as much",
)
ALLOWANCE_KEY = Key(
    name="allowance",
    kind="number",
    low=1,
    high=5,
    default="1.5, with sulfide 2",
    help="factor on the stoichiometric sum",
)
RESIDUAL = Key(
    name="residual", unit=MG_L, low=0, high=200, help="residual wanted after the contact tank"
)
PH = Key(name="ph", kind="number", low=4, high=11, help="pH of the raw water, for the warnings")
KEYS = (
    OXIDANT,
    IRON,
    MANGANESE,
    SULFIDE,
    AMMONIA,
    ORGANICS,
    SULFIDE_AS,
    SULFIDE_TO,
    ALLOWANCE_KEY,
    RESIDUAL,
    PH,
)


class OxidantDemand(Answer):
    method: ClassVar[str] = "demand/1"

    demand: Quantity = result(MG_L, "stoichiometric sum; for peroxide without manganese")
    demand_iron: Quantity | None = result(MG_L, "part of the sum for iron")
    demand_manganese: Quantity | None = result(MG_L, "part of the sum for manganese")
    demand_sulfide: Quantity | None = result(MG_L, "part of the sum for sulfide")
    demand_ammonia: Quantity | None = result(
        MG_L, "part of the sum for ammonia (chlorine, to breakpoint)"
    )
    dose: Quantity = result(MG_L, "allowance x demand + organics + residual")


def ratio_iron(oxidant: str) -> float:
    """mg of oxidant per mg of iron."""
    return _ratio(oxidant, IRON_ELECTRONS, IRON_MASS)


def ratio_manganese(oxidant: str) -> float:
    """mg of oxidant per mg of manganese; for peroxide bookkeeping only, it does not remove it."""
    return _ratio(oxidant, MANGANESE_ELECTRONS, MANGANESE_MASS)


def ratio_sulfide(oxidant: str, stated_as: str = "h2s", product: str = "sulfur") -> float:
    """mg of oxidant per mg of sulfide stated as H2S or as S."""
    return _ratio(oxidant, SULFIDE_ELECTRONS[product], SULFIDE_MASS[stated_as])


def ratio_ammonia() -> float:
    """mg of chlorine per mg of ammonia nitrogen at the theoretical breakpoint."""
    return CHLORINE_PER_NITROGEN * OXIDANT_MASS["chlorine"] / NITROGEN_MASS


def _ratio(oxidant: str, electrons_given: int, mass: float) -> float:
    return electrons_given / ELECTRONS_TAKEN[oxidant] * OXIDANT_MASS[oxidant] / mass


def oxidant_demand(
    *,
    oxidant: str,
    iron: Quantity | None = None,
    manganese: Quantity | None = None,
    sulfide: Quantity | None = None,
    ammonia: Quantity | None = None,
    organics: Quantity | None = None,
    sulfide_as: str = "h2s",
    sulfide_to: str = "sulfur",
    allowance: float | None = None,
    residual: Quantity | None = None,
    ph: float | None = None,
) -> OxidantDemand:
    """Oxidant used up by what is in the water, and the dose that covers it.

    demand = sum of c x (electrons given / electrons taken) x M(oxidant) / M(substance)
    dose   = allowance x demand + organics + residual

    oxidant     peroxide as H2O2, chlorine as Cl2, permanganate as KMnO4, ozone as O3
    iron        [concentration]  0 to 200 mg/L, all taken as Fe(II)
    manganese   [concentration]  0 to 50 mg/L; left out for peroxide, which does not remove it
    sulfide     [concentration]  0 to 100 mg/L, as H2S or S (sulfide_as), to S or sulfate
    ammonia     [concentration]  0 to 50 mg/L as N, chlorine only (breakpoint)
    organics    [concentration]  0 to 50 mg/L of oxidant, said by the user
    allowance   factor, 1 to 5; default 1.5, with sulfide 2
    residual    [concentration]  0 to 200 mg/L
    ph          4 to 11, only for the warnings
    returns     mg/L of active oxidant

    Raises OutOfRange outside those limits, WrongUnit on a bare number, WrongInput on a word that
    is not a choice. Sources: stoichiometry; breakpoint 7.6 mg Cl2 per mg N (MEMORY, White's
    Handbook of Chlorination); the allowances are common practice, no source.
    """
    for key, word in ((OXIDANT, oxidant), (SULFIDE_AS, sulfide_as), (SULFIDE_TO, sulfide_to)):
        if word not in key.choices:
            raise WrongInput(key.name, f"{word!r} is not one of {', '.join(key.choices)}")
    found = {
        key.name: 0.0 if value is None else key.amount(value)
        for key, value in (
            (IRON, iron),
            (MANGANESE, manganese),
            (SULFIDE, sulfide),
            (AMMONIA, ammonia),
            (ORGANICS, organics),
            (RESIDUAL, residual),
        )
    }
    acidity = None if ph is None else PH.amount(ph)
    factor = ALLOWANCE_WITH_SULFIDE if found["sulfide"] > 0 else ALLOWANCE
    if allowance is not None:
        factor = ALLOWANCE_KEY.amount(allowance)
    parts = _parts(oxidant, found, sulfide_as, sulfide_to)
    total = math.fsum(parts.values())
    dose = factor * total + found["organics"] + found["residual"]
    return OxidantDemand(
        demand=q(total, MG_L),
        demand_iron=q(parts.get("iron"), MG_L),
        demand_manganese=q(parts.get("manganese"), MG_L),
        demand_sulfide=q(parts.get("sulfide"), MG_L),
        demand_ammonia=q(parts.get("ammonia"), MG_L),
        dose=q(dose, MG_L),
        warnings=_warnings(oxidant, found, total, acidity),
        cautions=_cautions(oxidant, found),
        sources=(STOICHIOMETRY, ALLOWANCE_SOURCE),
        working=_working(found, parts, factor, total, dose),
    )


def _parts(
    oxidant: str, found: dict[str, float], sulfide_as: str, sulfide_to: str
) -> dict[str, float]:
    """mg/L of oxidant for each substance that was found and that this oxidant takes on."""
    ratios = {
        "iron": ratio_iron(oxidant),
        "sulfide": ratio_sulfide(oxidant, sulfide_as, sulfide_to),
    }
    if oxidant != "peroxide":
        ratios["manganese"] = ratio_manganese(oxidant)
    if oxidant == "chlorine":
        ratios["ammonia"] = ratio_ammonia()
    return {name: ratio * found[name] for name, ratio in ratios.items() if found[name] > 0}


def _warnings(
    oxidant: str, found: dict[str, float], total: float, ph: float | None
) -> tuple[str, ...]:
    warnings = []
    if oxidant == "peroxide" and found["manganese"] > 0:
        warnings.append(
            "Manganese is left out: peroxide does not remove manganese at the pH of well water; "
            "plan another step for it, and no manganese dioxide media behind peroxide."
        )
    if oxidant == "chlorine" and found["ammonia"] > 0:
        warnings.append(
            "Ammonia holds chlorine as combined residual until the breakpoint: 7.6 mg per mg "
            "of nitrogen in theory, 8 to 10 in practice. Measure free chlorine, not total."
        )
    if oxidant != "chlorine" and found["ammonia"] > 0:
        warnings.append(f"Ammonia is left out: {oxidant} does not remove it.")
    if ph is not None and ph < SLOW_IRON_PH and found["iron"] > 0:
        warnings.append(
            f"pH {ph:g} is below {SLOW_IRON_PH:g}: iron oxidizes and settles slowly; raise the pH "
            "first or give it more time."
        )
    if oxidant == "chlorine" and found["manganese"] > 0 and (ph is None or ph < 8.5):
        warnings.append(
            "Chlorine oxidizes manganese slowly below pH 8.5 unless a manganese dioxide bed "
            "does the work; the tank alone is not enough."
        )
    if total == 0 and found["organics"] == 0:
        warnings.append("Nothing was entered that uses up oxidant: the dose is the residual only.")
    return tuple(warnings)


def _cautions(oxidant: str, found: dict[str, float]) -> tuple[str, ...]:
    cautions = [FOLLOW_LABEL]
    if oxidant in ("peroxide", "chlorine"):
        cautions.append(NOT_TOGETHER)
    if found["sulfide"] > 0:
        cautions.append(
            "A residual at the end of the tank does not prove that sulfide is gone: smell and "
            "test at the tap after the carbon. Hydrogen sulfide gas is poisonous; air out the room."
        )
    if oxidant == "permanganate":
        cautions.append("Too much permanganate turns the water pink and stains; keep no residual.")
    return tuple(cautions)


def _working(
    found: dict[str, float], parts: dict[str, float], factor: float, total: float, dose: float
) -> tuple[str, ...]:
    lines = [
        f"{name}: {found[name]:g} mg/L x {part / found[name]:.4f} = {part:.4g} mg/L"
        for name, part in parts.items()
    ]
    lines.append(
        f"demand = {' + '.join(f'{p:.4g}' for p in parts.values()) or '0'} = {total:.4g} mg/L"
    )
    lines.append(
        f"dose = {factor:g} x {total:.4g} + organics {found['organics']:g} + residual "
        f"{found['residual']:g} = {dose:.4g} mg/L"
    )
    return tuple(lines)


register(
    Calculation(
        name="oxidant-demand",
        title="Oxidant used up by iron, manganese, sulfide and ammonia",
        function=oxidant_demand,
        answer=OxidantDemand,
        keys=KEYS,
    )
)
