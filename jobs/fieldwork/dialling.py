"""The dial-back as its page shows it: strips, limits of a step, the next setting, the bars."""

from __future__ import annotations

from equipment.engineering.oxidant.kits import KITS, Kit
from equipment.engineering.oxidant.readings import HIGHEST_READING
from equipment.quantities import MEASURED
from jobs.wording.figures import sig

from .advice import computed_setting
from .glass import Glass
from .glasses import written
from .sheet import Sheet
from .states import counts

#: what a step may hold: the limits of the figures it is made of
LIMITS: dict[str, tuple[float, float]] = {
    name: (MEASURED[key].hard[0] or 0.0, MEASURED[key].hard[1] or 0.0)
    for name, key in (
        ("setting_percent", "pump_setting"),
        ("drawdown_ml_min", "feed_rate"),
        ("tap_flow_gpm", "tap_flow"),
    )
} | {"residual": (0.0, HIGHEST_READING)}
LABELS = {
    "setting_percent": ("Pump setting", "percent"),
    "drawdown_ml_min": ("Feed", "mL/min"),
    "tap_flow_gpm": ("Running tap", "gpm"),
    "residual": ("Residual", "mg/L"),
}


def beyond(name: str, value: float | None) -> str:
    """What is wrong with a figure of a step, "" when nothing is."""
    low, high = LIMITS[name]
    if value is None or low <= value <= high:
        return ""
    label, unit = LABELS[name]
    return f"{label}: {low:g} to {high:g} {unit}."


def kit_of(oxidant: str) -> Kit:
    return KITS.get(oxidant, KITS["peroxide"])


def pads_of(oxidant: str) -> tuple[float, ...]:
    """Printed values of the strip, or edges between colours; a reading lies between two."""
    return kit_of(oxidant).pads


def dial_bands(sheet: Sheet) -> list[tuple[str, float, float, str]]:
    top, advice = pads_of(sheet.oxidant)[-1], sheet.advice
    bars = [
        (
            f"{step.setting_percent:g} %",
            step.residual_low_mg_l,
            step.residual_high_mg_l if step.residual_high_mg_l is not None else top,
            "" if counts(step) else "early",
        )
        for step in sheet.steps
        if step.residual_low_mg_l is not None
    ]
    expected, setting = advice.value("expected_residual"), advice.value("next_setting")
    if bars and expected and setting is not None:
        bars.append((f"{setting:.0f} %", expected["low"], min(expected["high"], top), "expected"))
    return bars


def next_setting_glass(sheet: Sheet) -> Glass:
    advice = sheet.advice
    title = "Next setting" if sheet.steps else "Setting to start from"
    if sheet.is_recheck and not sheet.steps:
        waiting = "needs a reading at the setting as found: leave it set, wait, read"
        return Glass(title, "next-setting", waiting=waiting)
    if advice.json is None or advice.computed is None:
        return Glass(title, "next-setting", waiting=advice.waiting)
    stop = advice.value("stop")
    rows = []
    for key, label in (
        ("expected_residual", "Residual to expect after retention"),
        ("demand", "Demand of this water"),
        ("next_dose", "Dose at that setting"),
    ):
        found = advice.json["results"].get(key)
        if found:
            rows.append((label, *written(found)))
    computed = computed_setting(sheet.outcomes)
    if computed:
        rows.append(("Setting worked out from the raw water", sig(computed), "percent"))
    return Glass(
        "This setting stays" if stop and sheet.steps else title,
        "next-setting",
        answer=sig(advice.value("next_setting")),
        unit="percent",
        alt=advice.value("reason"),
        rows=rows,
        warnings=advice.json["warnings"],
        cautions=advice.json["cautions"][:2],
        working=advice.computed.working,
        sources=advice.json["sources"],
        method=advice.json["method_version"],
    )
