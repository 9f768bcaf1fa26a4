"""The panels by name."""

from __future__ import annotations

from .feed import FEED_PANELS
from .kinds import Panel
from .water import WATER_PANELS

PANELS: dict[str, Panel] = {panel.name: panel for panel in (*WATER_PANELS, *FEED_PANELS)}
