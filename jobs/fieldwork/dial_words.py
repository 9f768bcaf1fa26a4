"""What the two short forms of the dial-back ask, in words."""

from __future__ import annotations

from collections.abc import Collection

from equipment.engineering.oxidant.kits import BLANK_BELOW, MIX_READS
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
STRIPS = {
    "lot": "Strips",
    "new_lot": "Lot on another bottle",
    "expires_on": "Good until",
    "blank": "Blank, dosing pump off",
    "mix": "Known mix",
}
ANOTHER_BOTTLE = "another bottle"
LONGEST_LOT = 40
NOT_LOOKED = ("", "not looked at")
BLANK_HELP = f"Must read below {BLANK_BELOW:g} mg/L."


def mix_help(oxidant: str) -> str:
    """What strips must read of the known mix, "" where none is read."""
    if oxidant not in MIX_READS:
        return ""
    low, high = MIX_READS[oxidant]
    return (
        "1 mL of a 7 % mix in 1 gal of bottled water is 19 mg/L: must read "
        f"{low:g} to {high:g}. Pour it away afterwards; nobody drinks it."
    )


def set_by(figures: Collection[str]) -> dict[str, str]:
    """How each figure that this pump is set by is asked for."""
    said = NOW | ({SHARE: SHARE_OF_CYCLE} if CYCLE in figures else {})
    return {name: said.get(name, LABELS[name][0]) for name in figures}
