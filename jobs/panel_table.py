"""The panels by name."""

from __future__ import annotations

from .feed_panels import FEED_PANELS
from .panels import Panel
from .water_panels import WATER_PANELS

PANELS: dict[str, Panel] = {panel.name: panel for panel in (*WATER_PANELS, *FEED_PANELS)}
