"""What the dosing pump of a record stands at, by both figures where it is set by two."""

from __future__ import annotations

from equipment.engineering.errors import EngineeringError
from equipment.engineering.oxidant.pump_setting import (
    CYCLE,
    FIGURES,
    PULSES,
    SHARE,
    SPEED,
    STROKE,
    PumpSetting,
    set_to,
)

from .asked import Asked, Item
from .facts import FeedPump
from .keys import LineKey

#: the line of each figure, where a record asks for the setting
FIGURE_LINES: dict[str, LineKey] = {
    SHARE: LineKey.PUMP_SETTING,
    CYCLE: LineKey.PUMP_CYCLE,
    STROKE: LineKey.PUMP_STROKE,
    SPEED: LineKey.PUMP_SPEED,
    PULSES: LineKey.PUMP_PULSES,
}


def plate(asked: Asked) -> FeedPump | None:
    return asked.feeder.feed_pump if asked.feeder else None


def head_of(asked: Asked) -> str:
    pump = plate(asked)
    return pump.head if pump else ""


def figures_of(asked: Asked) -> tuple[str, ...]:
    """Names of the figures that this pump is set by."""
    return FIGURES[head_of(asked)]


def setting_line(asked: Asked) -> Item | None:
    """The first line that asks for the setting, None where the record does not."""
    return asked.item(FIGURE_LINES[figures_of(asked)[0]])


def typed_setting(asked: Asked, side: str | None = None) -> PumpSetting | None:
    """The setting as the lines of the record say it, None until all its figures are there."""
    figures: dict[str, float | None] = {}
    for name in figures_of(asked):
        item = asked.item(FIGURE_LINES[name])
        read = item.read(side) if item else None
        figures[name] = read.value if read else None
    return as_set(asked, figures)


def as_set(asked: Asked, figures: dict[str, float | None]) -> PumpSetting | None:
    """These figures on this pump; None where one is missing or beyond its marks."""
    try:
        return set_to(figures, plate(asked), flow_gpm=asked.newest("pump_flow"))
    except EngineeringError:
        return None


def stands_at(asked: Asked) -> PumpSetting | None:
    """The last step, else what was typed, else what is on file."""
    final = asked.final_step or (asked.steps[-1] if asked.steps else None)
    if final:
        return final.setting
    return typed_setting(asked) or asked.on_file.pump(asked.feeder)
