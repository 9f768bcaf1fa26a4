"""What the browser's worker calls: text in, text out.

The page hands over a record once, and then at each key what stands in its boxes.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from jobs.errors import WrongState
from jobs.fieldwork.facts_json import from_said
from jobs.fieldwork.laid_over import Person, Typed

from .engine import renderer
from .live import Handed, Told, item, page, panel


class Worker:
    """One phone with the record that lies open on it."""

    def __init__(self, folder: Path) -> None:
        self._render = renderer(folder)
        self._handed: Handed | None = None
        self._zone = UTC

    def open(self, text: str) -> None:
        """Takes a record as the office hands it over; the former one is forgotten."""
        said = json.loads(text)
        self._zone = timezone(timedelta(minutes=said["utc_offset_minutes"]))
        person = Person(said["by"]["name"], said["by"]["id"])
        facts = from_said(said["facts"])
        self._handed = Handed(facts=facts, person=person, system=said["system"])

    def live(self, text: str) -> str:
        """The parts of a page: {"block", "now", "acts", "panel_boxes"} to {id: HTML}."""
        said = json.loads(text)
        return json.dumps(page(self.handed, said["block"], self._told(said), self._render))

    def panel(self, text: str) -> str:
        """One panel with its boxes: as `live`, with its "name"."""
        said = json.loads(text)
        told = self._told(said)
        return json.dumps(panel(self.handed, said["block"], told, said["name"], self._render))

    def item(self, text: str) -> str:
        """One line with its boxes: as `live`, with its "key"."""
        said = json.loads(text)
        return json.dumps(item(self.handed, said["key"], self._told(said), self._render))

    @property
    def handed(self) -> Handed:
        if self._handed is None:
            raise WrongState("No record lies open here.")
        return self._handed

    def _told(self, said: Mapping[str, Any]) -> Told:
        return Told(
            now=self._moment(said["now"]),
            typed=[Typed.of_act(act, self._moment(act["at"])) for act in said["acts"]],
            panel_boxes=said.get("panel_boxes", {}),
        )

    def _moment(self, text: str) -> datetime:
        return datetime.fromisoformat(text).astimezone(self._zone)
