"""Cycles of wash and rinse, counted tank by tank; the next one is said before it begins."""

from __future__ import annotations

from .asked import Item
from .glasses import written
from .keys import LineKey, PanelName
from .kinds import LineKind
from .panels.kinds import Outcome
from .panels.run import Outcomes
from .states import PASSED


def next_cycle(outcomes: Outcomes, item: Item, system: str) -> str:
    """Minutes and water of the next cycle of this tank and the wait before it, in one sentence."""
    if item.line.kind != LineKind.CYCLES or item.stage is None or item.state == PASSED:
        return ""
    run = len(item.cycles)
    outcome = outcomes.typed(PanelName.WASH_CYCLE, item.stage, _flow_here(outcomes, item))
    if outcome.json is None:
        return f"Cycle {run + 1}: its time and water are not known yet, it {outcome.refusal}."
    said = f"Cycle {run + 1} takes {_of(outcome, 'time', system)} and " + (
        f"{_of(outcome, 'water', system)} to the drain."
    )
    if run and outcome.value("pause"):
        wait = _of(outcome, "pause", system)
        said += f" Wait {wait} before it: the well makes the water of the last one again."
    return said


def _flow_here(outcomes: Outcomes, item: Item) -> dict[str, str]:
    """The flow read at this tank, where it was read."""
    for key in (LineKey.BACKWASH_FLOW, LineKey.RESIN_FLOW):
        value = outcomes.asked.value(key, item.stage)
        if value is not None:
            return {"flow": f"{value:.10g} gpm"}
    return {}


def _of(outcome: Outcome, key: str, system: str) -> str:
    return " ".join(written(outcome.result(key), system))
