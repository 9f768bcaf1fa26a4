"""The dial-back as its page shows it: strips, limits of a step, the next setting, the bars."""

from __future__ import annotations

import math

from equipment.engineering.errors import EngineeringError
from equipment.engineering.names import Oxidant
from equipment.engineering.oxidant.kits import KITS, Kit
from equipment.engineering.oxidant.pump_setting import (
    CYCLE,
    PULSES,
    SHARE,
    SPEED,
    STROKE,
    PumpSetting,
    nearest,
    set_to,
)
from equipment.engineering.oxidant.readings import HIGHEST_READING, turnovers_said
from equipment.engineering.spans import read_span, span_words
from equipment.quantities import MEASURED
from jobs.errors import BadEntry
from jobs.wording.figures import THIN, sig
from jobs.wording.pump_settings import LABELS as FIGURES_SAID
from jobs.wording.pump_settings import setting_said

from .advice import computed_setting
from .facts import Step
from .glass import Glass
from .glasses import written
from .keys import PanelName
from .leaving import Leave
from .panels.kinds import Outcome
from .pump import figures_of, plate, stands_at
from .sheet import Sheet
from .states import counts

#: read by strips; permanganate by its colour
BY_STRIP = (Oxidant.PEROXIDE, Oxidant.CHLORINE)
#: what a step may hold: the limits of the figures it is made of
LIMITS: dict[str, tuple[float, float]] = {
    name: (MEASURED[key].hard[0] or 0.0, MEASURED[key].hard[1] or 0.0)
    for name, key in (
        (SHARE, "pump_setting"),
        (CYCLE, "pump_cycle"),
        (STROKE, "pump_stroke"),
        (SPEED, "pump_speed"),
        (PULSES, "pump_pulses"),
        ("drawdown_ml_min", "feed_rate"),
        ("tap_flow_gpm", "tap_flow"),
    )
} | {"residual": (0.0, HIGHEST_READING)}
LABELS = FIGURES_SAID | {
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
    return f"{label}: {low:g} to {high:g} {unit}".rstrip() + "."


def checked(sheet: Sheet, setting: PumpSetting) -> PumpSetting:
    """The setting by the figures that this pump has; BadEntry names the one at fault."""
    figures = {name: setting.figure(name) for name in figures_of(sheet)}
    for name, value in figures.items():
        if said := beyond(name, value):
            raise BadEntry(said, field=name)
        if value is None:
            raise BadEntry(
                f"{LABELS[name][0]}: this dosing pump is set by two figures, say both.", field=name
            )
    try:
        return set_to(figures, plate(sheet), flow_gpm=sheet.newest("pump_flow"))
    except EngineeringError as refusal:
        raise BadEntry(f"This dosing pump cannot be set yet: {refusal}.") from refusal


def advised_setting(sheet: Sheet) -> PumpSetting | None:
    """The advice by the figures of this pump; of a timer with the longest cycle that is right."""
    percent = sheet.advice.value("next_setting")
    return set_for(sheet, percent) if percent else None


def set_for(sheet: Sheet, percent: float) -> PumpSetting:
    """What to set on this pump for a share of its full output; the share alone where the pump's
    plate does not say enough."""
    try:
        found = nearest(
            percent, plate(sheet), now=stands_at(sheet), flow_gpm=sheet.newest("pump_flow")
        )
    except EngineeringError:
        return PumpSetting(percent=percent)
    cycle = longest_cycle(sheet, percent).value("cycle") if found.cycle_s else None
    return PumpSetting(percent=found.percent, cycle_s=cycle) if cycle else found


def left_at(sheet: Sheet, way: Leave | None) -> PumpSetting | None:
    """What to set where the dial-back is left for the day, None where there is no such setting."""
    if way is None:
        return None
    return way.setting or (set_for(sheet, way.percent) if way.percent else None)


def longest_cycle(sheet: Sheet, percent: float) -> Outcome:
    """The longest cycle of a timer at that share, and how far the dose swings at it."""
    return sheet.outcomes.typed(PanelName.TIMER_CYCLE, None, {"on_share": f"{percent} percent"})


def _two_figures(sheet: Sheet) -> list[tuple[str, str, str]]:
    """How the advised setting is set, where the pump has two figures for it."""
    setting = advised_setting(sheet)
    if setting is None or not setting.marks:
        return []
    rows = [("Set", setting_said(setting), "")]
    if setting.cycle_s:
        found = longest_cycle(sheet, setting.percent)
        bound = f"{sheet.company['dose_swing_percent']:g}{THIN}%"
        if found.json:
            label = f"Longest cycle whose dose swings at most {bound}"
            rows += [(label, f"{setting.cycle_s:g}", "s")]
        else:
            rows += [("Longest cycle", found.refusal, "")]
    return rows


def kit_of(oxidant: str) -> Kit:
    return KITS.get(oxidant, KITS["peroxide"])


def pads_of(oxidant: str) -> tuple[float, ...]:
    """Printed values of the strip, or edges between colours; a reading lies between two."""
    return kit_of(oxidant).pads


def band_choices(oxidant: str) -> list[tuple[str, str]]:
    """From pad to pad of the strip; permanganate by its colour in a white cup."""
    kit = kit_of(oxidant)
    choices = []
    for at, (low, high) in enumerate(kit.bands):
        above = math.isinf(high)
        said = f"{span_words(low, high)} mg/L"
        if kit.colours:
            said = f"{kit.colours[at]}, {said}"
        choices.append((f">{low:g}" if above else f"{low:g}-{high:g}", said))
    return choices


def band_read(text: str) -> tuple[float, float | None]:
    """A choice of band_choices; None above the last pad."""
    low, high = read_span("residual", text)
    return low, None if math.isinf(high) else high


def residual_words(step: Step) -> str:
    """From pad to pad, "" where nothing was read."""
    return span_words(step.residual_low_mg_l, step.residual_high_mg_l)


def waited_words(step: Step) -> str:
    """Turnovers until it was read, "" where that is not known."""
    return "" if step.turnovers is None else turnovers_said(step.turnovers)


def dial_bands(sheet: Sheet) -> list[tuple[str, float, float, str]]:
    top, advice = pads_of(sheet.oxidant)[-1], sheet.advice
    bars = [
        (
            f"{step.setting_percent:.3g} %",
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
    rows = _two_figures(sheet)
    for key, label in (
        ("expected_residual", "Residual to expect after the contact tank"),
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
