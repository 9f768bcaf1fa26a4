"""Computed answers beside a form: from typed texts to what the measuring glass shows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from equipment.engineering.errors import EngineeringError, MissingInput
from equipment.engineering.registry import calculation, compute
from jobs.fieldwork.glass import Glass
from jobs.fieldwork.keys import PanelName
from jobs.wording.figures import sig


@dataclass(frozen=True)
class Panel:
    """Which calculation, which of its results is the answer, and where its inputs come from."""

    name: str
    title: str
    answer: str
    #: key of the calculation -> key of the form
    inputs: Mapping[str, str]
    rows: tuple[tuple[str, str], ...] = ()
    digits: int = 3


WELL_PANELS = (
    Panel(
        PanelName.WELL_VOLUME,
        "Water standing in the well",
        "volume",
        {
            "casing_diameter": "casing_diameter",
            "total_depth": "total_depth",
            "static_level": "static_level",
        },
        (("Height of the water", "water_column"), ("In each foot", "volume_per_length")),
    ),
    Panel(
        PanelName.PRESSURE_TANK,
        "Water the pressure tank gives",
        "drawdown",
        {
            "volume": "pressure_tank_volume",
            "precharge": "precharge",
            "cut_in": "cut_in",
            "cut_out": "cut_out",
            "altitude": "altitude",
            "pump_flow": "pump_flow",
        },
        (("Pre-charge wanted", "precharge_wanted"), ("Shortest run of the well pump", "pump_run")),
    ),
    Panel(
        PanelName.WELL_FLOW,
        "Well pump flow while the tank refills",
        "flow",
        {"drawdown": "drawdown_volume", "refill_time": "refill_time"},
    ),
)


def well_glasses(texts: Mapping[str, str]) -> list[Glass]:
    return [glass(panel, texts) for panel in WELL_PANELS]


def glass(panel: Panel, texts: Mapping[str, str]) -> Glass:
    """The glass of one calculation; what is missing or wrong stands where the answer would."""
    given = {key: texts[source] for key, source in panel.inputs.items() if texts.get(source)}
    shown = Glass(panel.title, panel.name)
    try:
        body, answer = compute(panel.name, **given)
    except MissingInput as missing:
        return replace(shown, waiting=f"needs {_named(missing.key)}", have=_have(panel, given))
    except EngineeringError as refusal:
        waiting = f"waits: {_named(refusal.key)}"
        return replace(shown, waiting=waiting, warnings=[f"{refusal.key} {refusal.message}."])
    results = body["results"]
    value = results[panel.answer]
    rows = [
        (label, sig(results[key]["value"], 3), results[key]["unit"])
        for label, key in panel.rows
        if key in results
    ]
    return replace(
        shown,
        answer=sig(value["value"], panel.digits),
        unit=value["unit"],
        rows=rows,
        warnings=answer.warnings,
        cautions=answer.cautions,
        working=answer.working,
        sources=answer.sources,
        method=body["method_version"],
    )


def _have(panel: Panel, given: Mapping[str, str]) -> str:
    needed = [key.name for key in calculation(panel.name).keys if key.required]
    here = [key for key in needed if key in given]
    return f"{len(here)} of {len(needed)} figures are here." if len(needed) > 1 else ""


def _named(key: str) -> str:
    return "the " + key.replace("_", " ")
