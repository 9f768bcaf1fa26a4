"""Where water and figures are taken: the words for each place."""

from __future__ import annotations

from equipment.quantities import PlaceName

#: taps of the readings table
PLACE_WORDS: dict[str, str] = {
    PlaceName.RAW: "Raw",
    PlaceName.AFTER_RETENTION: "After the contact tank",
    PlaceName.TAP: "Kitchen, cold",
    PlaceName.HOT_TAP: "Hot tap",
    PlaceName.OTHER_TAP: "Another tap",
    "drain": "Drain",
}
PLACE_ORDER: dict[str, int] = {
    PlaceName.RAW: 0,
    PlaceName.AFTER_RETENTION: 1,
    PlaceName.AFTER_STAGE: 1,
    PlaceName.TAP: 2,
    PlaceName.HOT_TAP: 3,
    PlaceName.OTHER_TAP: 4,
    "drain": 5,
}
#: places where a well or new piping is disinfected: nobody drinks this water
DISINFECTING = {
    "after_contact": "After the contact time",
    "hose": "Garden hose",
    "flush_high": "Flush, high range",
    "flush_low": "Flush, low range",
    "flush_hot": "Flush, hot tap",
}
#: places of figures that are not about water at a tap
OTHER_PLACES: dict[str, str] = {
    "charge": "While the pipes charge",
    "before": "Before the system",
    "after": "Behind the system",
    "hold_start": "Start of the pressure hold",
    "hold_end": "End of the pressure hold",
    PlaceName.LABEL: "From the label",
    "shock_product": "Product for the well",
}
