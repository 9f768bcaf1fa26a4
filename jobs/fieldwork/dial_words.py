"""What the two short forms of the dial-back ask, in words."""

from __future__ import annotations

from collections.abc import Collection

from equipment.engineering.oxidant.pump_setting import CYCLE, SHARE

from .dialling import LABELS
from .kinds import LOOK_WORDS

NOW = {SHARE: "Dosing pump setting now", CYCLE: "Cycle of the timer now"}
SHARE_OF_CYCLE = "Share of the cycle now"
MORE = {
    "drawdown_ml_min": "Draw-down at this setting",
    "tap_flow_gpm": "Flow of the running tap",
}
DRAWDOWN_HELP = "Confirms the dose at once, without waiting."
LOOK = "What does the glass from the tap after the last tank look like?"
LOOK_HELP = "Clear glass, cold water, held against something dark."
LOOKS = tuple((look.value, said) for look, said in LOOK_WORDS.items())
BAND = "Residual after the contact tank, by the strip"
BAND_BY_COLOUR = "Colour ahead of the filter, in a white cup"
METER = "Or a meter reads"
ASKED_AT_TAP = {
    "iron_clear": "No iron at the tap after carbon",
    "odour_clear": "No odour at the tap after carbon",
    "colour_gone": "No colour in the water after the filter",
}
YES_NO = (("yes", "yes"), ("no", "no"), ("", "not looked"))


def set_by(figures: Collection[str]) -> dict[str, str]:
    """How each figure that this pump is set by is asked for."""
    said = NOW | ({SHARE: SHARE_OF_CYCLE} if CYCLE in figures else {})
    return {name: said.get(name, LABELS[name][0]) for name in figures}
