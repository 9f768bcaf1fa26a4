"""Contact in a retention tank: time, chlorine credit, and how long to wait after a change.

Contents: contact, baffling, turnover.
"""

from __future__ import annotations

import math
from typing import ClassVar

from equipment.engineering.errors import OutOfRange, WrongInput
from equipment.engineering.oxidant.readings import SETTLED_TURNOVERS
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity, ranged

from .chlorine_contact import giardia_ct_3_log, giardia_logs, virus_ct_4_log

GAL = "gal"
GPM = "gpm"
MINUTE = "min"
CT_UNIT = "mg*min/L"
LARGEST_GAL = 10_000.0
LARGEST_GPM = 500.0
LEAST_FACTOR = 0.1
#: logs the tables are made for; more is not shown
GIARDIA_LOGS, VIRUS_LOGS = 3.0, 4.0
OXIDANTS = ("chlorine", "peroxide", "permanganate", "ozone")

FACTOR_HELP = (
    "0.1 unbaffled, 0.3 poor, 0.5 average, 0.7 superior, 1 long pipe; below 0.1 is refused"
)
FLOW_HELP = (
    "well pump flow if the tank stands before the pressure tank, else the peak draw of the house"
)
FACTOR_SOURCE = (
    "Baffling factors: Pennsylvania DEP, Tracer Studies and Contact Time; EPA guidance (1991)"
    " appendix C."
)
CT_SOURCES = (
    "40 CFR 141.74(b)(3) tables 1.1 to 1.6 (Giardia, free chlorine) and EPA 815-R-20-003 tables"
    " B-1 and B-2 (viruses), from memory.",
    "Log = 3 x CT / CT99.9: 40 CFR 141.534.",
)


class Contact(Answer):
    method: ClassVar[str] = "contact/2"

    detention: Quantity = result(MINUTE, "volume over flow")
    t10: Quantity = result(MINUTE, "time that 90 percent of the water stays at least")
    ct: Quantity | None = result(CT_UNIT, "free chlorine times t10")
    ct_giardia_3log: Quantity | None = result(CT_UNIT, "needed for 3-log Giardia")
    ct_virus_4log: Quantity | None = result(CT_UNIT, "needed for 4-log viruses")
    log_giardia: float | None = result("", "logs of Giardia by that yardstick, at most 3")
    log_virus: float | None = result("", "logs of viruses by that yardstick, at most 4")


def contact(
    *,
    volume: Quantity,
    baffling_factor: float,
    flow: Quantity,
    oxidant: str | None = None,
    residual: Quantity | None = None,
    temperature: Quantity | None = None,
    ph: float | None = None,
) -> Contact:
    """Contact time of a retention tank, and CT credit for free chlorine only.

    t = V / Q;  T10 = BF V / Q;  CT = C T10;  log = 3 CT / CT99.9 (Giardia), 4 CT / CT99.99

    volume           V, water in the tank           [gal]   above 0 to 10000
    baffling_factor  BF = T10 / T                   [bare]  0.1 to 1; below, as in a bladder tank,
                     there is no contact
    flow             Q, well pump flow if the tank stands before the pressure tank, else peak draw
                                                    [gpm]   above 0 to 500
    oxidant          chlorine, peroxide, permanganate, ozone
    residual         C, free chlorine at the end of the tank, at peak flow, before carbon
                                                    [mg/L]  0 to 10
    temperature, ph  of the water                   [degC, bare]  0 to 40, 4 to 11
    returns          detention, t10 min; for chlorine with residual ct, and with temperature and
                     ph the needed values and the logs

    Rounds temperature down, pH up, residual up to the published table, without interpolation;
    above 3 mg/L the 3 mg/L row; more chlorine never gets less credit than the rows below give.
    Logs end at 3 and 4, as the tables do. Virus values hold for pH 6 to 10, Giardia up to pH 9;
    outside they are absent.
    Raises OutOfRange, WrongInput naming the key.
    Source: 40 CFR 141.74(b)(3), 141.534 (formula SEEN, cells MEMORY); EPA 815-R-20-003.
    """
    gallons = ranged("volume", volume, GAL, 0.0, LARGEST_GAL, low_open=True)
    factor = baffling(baffling_factor)
    gpm = ranged("flow", flow, GPM, 0.0, LARGEST_GPM, low_open=True)
    if oxidant is not None and oxidant not in OXIDANTS:
        raise WrongInput("oxidant", f"must be one of {', '.join(OXIDANTS)}")
    left = None if residual is None else ranged("residual", residual, "mg/L", 0.0, 10.0)
    celsius = None if temperature is None else ranged("temperature", temperature, "degC", 0.0, 40.0)
    if ph is not None and not 4 <= ph <= 11:
        raise OutOfRange("ph", f"must be 4 to 11, got {ph:g}")
    t10 = factor * gallons / gpm
    credit = _credit(oxidant, t10, left, celsius, ph)
    ct = credit.get("ct")
    return Contact(
        detention=q(gallons / gpm, MINUTE),
        t10=q(t10, MINUTE),
        ct=q(ct, CT_UNIT),
        ct_giardia_3log=q(credit.get("giardia"), CT_UNIT),
        ct_virus_4log=q(credit.get("virus"), CT_UNIT),
        log_giardia=_capped(credit.get("log_giardia"), GIARDIA_LOGS),
        log_virus=_capped(credit.get("log_virus"), VIRUS_LOGS),
        warnings=_warnings(factor, oxidant, left, celsius, ph) + _credit_warnings(credit),
        cautions=_contact_cautions(oxidant),
        sources=(FACTOR_SOURCE, *(CT_SOURCES if ct is not None else ())),
        working=_working(gallons, gpm, factor, t10, left, ct),
    )


def baffling(factor: float) -> float:
    """T10 over T as it was given, inside its range."""
    if not LEAST_FACTOR <= factor <= 1:
        raise OutOfRange(
            "baffling_factor",
            f"must be {LEAST_FACTOR:g} to 1, got {factor:g}; a bladder tank gives no contact",
        )
    return factor


def _credit(
    oxidant: str | None,
    t10: float,
    residual: float | None,
    celsius: float | None,
    ph: float | None,
) -> dict[str, float | None]:
    if oxidant != "chlorine" or residual is None:
        return {}
    ct = residual * t10
    if celsius is None or ph is None:
        return {"ct": ct}
    giardia = giardia_ct_3_log(celsius, ph, residual)
    virus = virus_ct_4_log(celsius, ph)
    return {
        "ct": ct,
        "giardia": giardia,
        "virus": virus,
        "log_giardia": giardia_logs(celsius, ph, residual, t10),
        "log_virus": None if virus is None else 4 * ct / virus,
    }


def _capped(logs: float | None, most: float) -> float | None:
    return None if logs is None else min(logs, most)


def _credit_warnings(credit: dict[str, float | None]) -> tuple[str, ...]:
    warnings = []
    giardia, virus = credit.get("log_giardia"), credit.get("log_virus")
    if giardia is not None and giardia >= GIARDIA_LOGS:
        warnings.append(f"At least {GIARDIA_LOGS:g} logs of Giardia: the table ends there.")
    elif giardia is not None:
        warnings.append(
            f"{giardia:.2g} of {GIARDIA_LOGS:g} logs of Giardia: a house tank does not treat it."
        )
    if virus is not None and virus >= VIRUS_LOGS:
        warnings.append(f"At least {VIRUS_LOGS:g} logs of viruses: the table ends there.")
    return tuple(warnings)


def _warnings(
    factor: float,
    oxidant: str | None,
    residual: float | None,
    celsius: float | None,
    ph: float | None,
) -> tuple[str, ...]:
    warnings = []
    if 0.3 < factor < 1:
        warnings.append("A factor above 0.3 in a small tank needs baffles inside or a tracer test.")
    if oxidant not in (None, "chlorine") and residual is not None:
        warnings.append(f"No disinfection credit is given for {oxidant}.")
    if oxidant == "chlorine":
        warnings += _chlorine_warnings(residual, celsius, ph)
    return tuple(warnings)


def _chlorine_warnings(
    residual: float | None, celsius: float | None, ph: float | None
) -> list[str]:
    warnings = []
    if residual is None or celsius is None or ph is None:
        warnings.append("For logs give residual, temperature and ph.")
    if residual is not None and residual > 3:
        warnings.append("Above 3 mg/L the table's last row (3 mg/L) is used.")
    if residual is not None and residual > 4:
        warnings.append("Above 4 mg/L free chlorine: not for drinking.")
    if ph is not None and ph > 9:
        warnings.append("Above pH 9 the Giardia table ends.")
    if ph is not None and not 6 <= ph <= 10:
        warnings.append("The virus table holds for pH 6 to 10 only.")
    return warnings


def _contact_cautions(oxidant: str | None) -> tuple[str, ...]:
    if oxidant != "chlorine":
        return ()
    return (
        "Counts only if free chlorine was measured at the end of the tank, at peak flow, before"
        " carbon.",
        "The tables bind public systems; for a private well they are a yardstick, no proof that"
        " the water is safe: only a bacteria test shows that.",
    )


def _working(
    gallons: float, gpm: float, factor: float, t10: float, residual: float | None, ct: float | None
) -> tuple[str, ...]:
    lines = [
        f"detention = {gallons:g} gal / {gpm:g} gpm = {gallons / gpm:.4g} min",
        f"T10 = {factor:g} x {gallons / gpm:.4g} min = {t10:.4g} min",
    ]
    if ct is not None:
        lines.append(f"CT = {residual:g} mg/L x {t10:.4g} min = {ct:.4g} mg min/L")
    return tuple(lines)


def turnovers_run(minutes: float, gpm: float, gallons: float) -> float:
    """How many volumes have gone through in that time, n = Q t / V."""
    return gpm * minutes / gallons


class Turnover(Answer):
    method: ClassVar[str] = "turnover/1"

    time: Quantity = result(MINUTE, "running time at that flow")
    water: Quantity = result(GAL, "water run to waste meanwhile")
    old_water_left: float = result("", "share of the old water still there, fully mixed")


def turnover(*, volume: Quantity, flow: Quantity, turnovers: float = SETTLED_TURNOVERS) -> Turnover:
    """How long to run before a reading shows a new setting.

    t = n V / Q;  share of old water = exp(-n), one mixed volume (real tanks are better)

    volume     V, water in retention tank and vessels   [gal]   above 0 to 10000
    flow       Q, flow of the running tap               [gpm]   above 0 to 500
    turnovers  n, default 3                             [bare]  0.1 to 10
    returns    time min, water gal, old_water_left bare

    Raises OutOfRange naming the key. Source: stirred-tank washout (any reactor text);
    three turnovers before reading: common practice, no source.
    """
    gallons = ranged("volume", volume, GAL, 0.0, LARGEST_GAL, low_open=True)
    gpm = ranged("flow", flow, GPM, 0.0, LARGEST_GPM, low_open=True)
    if not 0.1 <= turnovers <= 10:
        raise OutOfRange("turnovers", f"must be 0.1 to 10, got {turnovers:g}")
    water, left = turnovers * gallons, math.exp(-turnovers)
    warnings: tuple[str, ...] = ()
    if turnovers < 2:
        warnings = ("Early: too much old water is left for a reading.",)
    elif turnovers < SETTLED_TURNOVERS:
        warnings = ("Short of 3 turnovers: do not choose a setting from this reading.",)
    return Turnover(
        time=q(water / gpm, MINUTE),
        water=q(water, GAL),
        old_water_left=left,
        warnings=warnings,
        cautions=("Run to waste outdoors; watch that the well keeps up.",),
        sources=("Washout of one mixed volume; three turnovers is common practice.",),
        working=(
            f"water = {turnovers:g} x {gallons:g} gal = {water:.4g} gal",
            f"time = {water:.4g} gal / {gpm:g} gpm = {water / gpm:.4g} min",
            f"old water left = exp(-{turnovers:g}) = {left:.3f}",
        ),
    )


VOLUME = Key(
    name="volume",
    unit=GAL,
    required=True,
    low=0,
    low_open=True,
    high=LARGEST_GAL,
    help="water in the tank",
)
FLOW = Key(
    name="flow", unit=GPM, required=True, low=0, low_open=True, high=LARGEST_GPM, help=FLOW_HELP
)
FACTOR = Key(name="baffling_factor", kind="number", required=True, low=0, high=1, help=FACTOR_HELP)
register(
    Calculation(
        name="contact",
        title="Contact time, and credit for free chlorine",
        function=contact,
        answer=Contact,
        keys=(
            VOLUME,
            FACTOR,
            FLOW,
            Key(
                name="oxidant",
                kind="choice",
                choices=OXIDANTS,
                help="credit is given for chlorine only",
            ),
            Key(
                name="residual",
                unit="mg/L",
                low=0,
                high=10,
                help="free chlorine at the end of the tank, at peak flow, before carbon",
            ),
            Key(name="temperature", unit="degC", low=0, high=40, help="of the water"),
            Key(name="ph", kind="number", low=4, high=11, help="of the water"),
        ),
    )
)
register(
    Calculation(
        name="turnover",
        title="Running time until a reading shows the new setting",
        function=turnover,
        answer=Turnover,
        keys=(
            Key(
                name="volume",
                unit=GAL,
                required=True,
                low=0,
                low_open=True,
                high=LARGEST_GAL,
                help="water in the contact tank and the vessels",
            ),
            Key(
                name="flow",
                unit=GPM,
                required=True,
                low=0,
                low_open=True,
                high=LARGEST_GPM,
                help="flow of the running tap, not of the well pump",
            ),
            Key(
                name="turnovers",
                kind="number",
                low=0.1,
                high=10,
                default=f"{SETTLED_TURNOVERS:g}",
                help="how many times the volume is replaced",
            ),
        ),
    )
)
