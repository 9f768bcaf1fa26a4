"""What the dial-back page says: where to start, the next setting, how long to wait."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from equipment.engineering.errors import EngineeringError, MissingInput
from equipment.engineering.names import Oxidant
from equipment.engineering.oxidant.dial_figures import largest_permanganate_dose
from equipment.engineering.oxidant.readings import MOST_TURNOVERS
from equipment.engineering.registry import compute
from equipment.engineering.results import Answer as Computed
from equipment.engineering.results import Json

from .asked import Asked
from .facts import Step
from .keys import DIAL_IN, NOT_SOAKED, UNCLEAR_GLASS, LineKey, PanelName
from .new_carbon import hides_odour
from .panels.run import Outcomes
from .states import TURNOVERS_NEEDED

#: of the raw water; without one of them its demand is not known
ASKS_FOR_OXIDANT = ("iron", "manganese", "sulfide")


@dataclass(frozen=True)
class Advice:
    """The computed next step, or what is missing for it."""

    json: Json | None = None
    computed: Computed | None = None
    waiting: str = ""

    def value(self, key: str) -> Any:
        found = (self.json or {}).get("results", {}).get(key)
        return found.get("value") if isinstance(found, dict) and "value" in found else found


def turning_volume(outcomes: Outcomes) -> float | None:
    """Gallons between the injection point and the tap."""
    known = outcomes.of(PanelName.TURNOVER).known.get("volume")
    return known.value if known else None


def wait_minutes(outcomes: Outcomes, step: Step | None = None) -> float | None:
    """Minutes of three turnovers at the tap flow of the step, or at the one on the record."""
    volume = turning_volume(outcomes)
    flow = (step.tap_flow_gpm if step else None) or outcomes.asked.value(LineKey.TAP_FLOW)
    if not volume or not flow:
        return None
    found, _ = compute(
        PanelName.TURNOVER,
        volume=f"{volume} gal",
        flow=f"{flow} gpm",
        turnovers=str(TURNOVERS_NEEDED),
    )
    return float(found["results"]["time"]["value"])


def computed_setting(outcomes: Outcomes) -> float | None:
    return outcomes.of(PanelName.FEED_SETTING).value("setting")


def dose_at(outcomes: Outcomes, percent: float) -> float | None:
    if percent <= 0:
        return 0.0
    return outcomes.typed(
        PanelName.DOSE_FROM_SETTING, None, {"setting": f"{percent} percent"}
    ).value("dose")


def reading_text(step: Step) -> str:
    """A step as the calculation reads it: setting:low-high:turnovers, then tap and feeder."""
    low, high = step.residual_low_mg_l or 0.0, step.residual_high_mg_l
    span = f">{low:g}" if high is None else f"{low:g}-{high:g}"
    words = [
        f"{step.setting_percent:g}",
        span,
        f"{min(step.turnovers or 0, MOST_TURNOVERS):.10g}",
    ]
    if step.iron_clear is False or step.odour_clear is False:
        words.append("unclear")
    elif step.iron_clear and step.odour_clear:
        words.append("clear")
    if step.feeder_check:
        words.append(step.feeder_check)
    return ":".join(words)


def steps_read(asked: Asked) -> list[Step]:
    """Steps with a reading that is not in doubt, in the order taken."""
    return [s for s in asked.steps if s.residual_low_mg_l is not None and not s.doubt]


def advise(outcomes: Outcomes) -> Advice:
    """Next setting from the steps so far; the start where there are none.

    One judgement: the page shows it, and by it a setting stays and a record closes.
    """
    asked = outcomes.asked
    if asked.feeder is None:
        return Advice(waiting="needs a dosing pump in the system")
    feed = outcomes.typed(PanelName.DOSE_FROM_SETTING, None, {"setting": "50 percent"})
    if feed.json is None:
        return Advice(waiting=feed.refusal)
    by_colour = asked.oxidant == Oxidant.PERMANGANATE
    if asked.aim is None and not by_colour:
        return Advice(waiting="needs raw sulfide: the residual aimed at rests on it")
    if by_colour and raw_demand(outcomes) is None:
        return Advice(waiting="needs raw iron, manganese or sulfide: the largest dose rests on it")
    low, high = asked.aim or (0.0, 0.0)
    texts: dict[str, str | list[str]] = {
        "oxidant": asked.oxidant,
        "flow": feed.known["flow"].text,
        "strength": feed.known["strength"].text,
        "feeder_output": feed.known["feeder_output"].text,
        "target_low": f"{low} mg/L",
        "target_high": f"{high} mg/L",
        "reading": [reading_text(step) for step in steps_read(asked)],
    }
    texts |= _limits(outcomes) | _last_words(asked)
    if hides_odour(asked):
        texts["new_carbon"] = "true"
    try:
        json, computed = compute(DIAL_IN, **texts)
    except MissingInput:
        return Advice(waiting="needs raw iron or sulfide, for the setting to start from")
    except EngineeringError as refusal:
        return Advice(waiting=refusal.message)
    return Advice(json, computed)


def raw_demand(outcomes: Outcomes) -> float | None:
    """What the raw water asks for, without anything over, mg/L; None where nobody measured it."""
    found = outcomes.of(PanelName.OXIDANT_DEMAND)
    return found.value("demand") if found.known.keys() & set(ASKS_FOR_OXIDANT) else None


def _limits(outcomes: Outcomes) -> dict[str, str | list[str]]:
    """Where it starts, what it may not pass, and the marks of the dosing pump."""
    asked, words = outcomes.asked, dict[str, str | list[str]]()
    computed = computed_setting(outcomes)
    if computed:
        words["computed_setting"] = f"{min(computed, 1000)} percent"
    feeder = asked.feeder
    level = feeder.product.maximum_use_level_mg_l if feeder and feeder.product else None
    if level:
        words["maximum_use_level"] = f"{level} mg/L"
    need = raw_demand(outcomes)
    if asked.oxidant == Oxidant.PERMANGANATE and need is not None:
        words["maximum_dose"] = f"{largest_permanganate_dose(need)} mg/L"
    if feeder and feeder.feed_pump:
        words["pump_step"] = f"{feeder.feed_pump.setting_step_percent} percent"
    return words


def _last_words(asked: Asked) -> dict[str, str | list[str]]:
    """What is said of the last reading beside it."""
    words: dict[str, str | list[str]] = {}
    read = steps_read(asked)
    for key in ("iron_clear", "odour_clear", "colour_gone"):
        said = getattr(read[-1], key) if read else None
        if said is not None:
            words[key] = str(said).lower()
    return words


def looks_say_nothing(asked: Asked) -> bool:
    """The treated control glass was not clear with the pump off: only residuals count today."""
    unclear = asked.text(LineKey.GLASS_TREATED) in UNCLEAR_GLASS
    return unclear or asked.text(LineKey.SOAKED) == NOT_SOAKED
