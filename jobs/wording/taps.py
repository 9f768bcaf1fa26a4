"""Where water and figures are taken: the words for each place."""

from __future__ import annotations

#: taps of the readings table
PLACE_WORDS = {
    "raw": "Raw",
    "after_retention": "After retention",
    "tap": "Kitchen, cold",
    "hot_tap": "Hot tap",
    "drain": "Drain",
}
PLACE_ORDER = {"raw": 0, "after_retention": 1, "after_stage": 1, "tap": 2, "hot_tap": 3, "drain": 4}
#: places where a well or new piping is disinfected: nobody drinks this water
DISINFECTING = {
    "after_contact": "After the contact time",
    "hose": "Garden hose",
    "flush_high": "Flush, high range",
    "flush_low": "Flush, low range",
}
#: places of figures that are not about water at a tap
OTHER_PLACES = {
    "before": "Before the system",
    "after": "Behind the system",
    "hold_start": "Start of the pressure hold",
    "hold_end": "End of the pressure hold",
    "label": "From the label",
    "shock_product": "Product for the well",
}


def tap_of(words: str) -> str:
    """The place of a sample whose tap was written in words."""
    words = words.lower()
    return "raw" if "raw" in words else "hot_tap" if "hot" in words else "tap"
