"""What the browser's worker calls: text in, text out.

The page hands over a record once, and then at each key what stands in its boxes.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from pathlib import Path
from typing import Any

from jobs.errors import WrongState
from jobs.fieldwork.facts_json import from_said
from jobs.fieldwork.laid_acts import with_acts
from jobs.fieldwork.laid_over import Person, Typed

from . import whole
from .engine import drawing_anew, renderer
from .live import Handed, Told, item, page, panel


class Worker:
    """One phone with the record that lies open on it."""

    def __init__(self, folder: Path) -> None:
        self._render = renderer(folder)
        self._render_live = drawing_anew(self._render)
        self._handed: Handed | None = None
        self._zone: tzinfo = UTC
        #: names of the acts that wait, and what was handed over with them
        self._laid: tuple[list[str], Handed] | None = None

    def open(self, text: str) -> None:
        """Takes a record as the office hands it over; the former one is forgotten."""
        self._handed = self._laid = None
        said = json.loads(text)
        self._zone = timezone(timedelta(minutes=said["utc_offset_minutes"]))
        person = Person(said["by"]["name"], said["by"]["id"])
        facts = from_said(said["facts"])
        self._handed = Handed(facts=facts, person=person, system=said["system"])

    def live(self, text: str) -> str:
        """The parts of a page: {"block", "now", "acts", "panel_boxes"} to {id: HTML}."""
        said = json.loads(text)
        told = self._told(said)
        return json.dumps(page(self._under(said), said["block"], told, self._render_live))

    def panel(self, text: str) -> str:
        """One panel with its boxes: as `live`, with its "name"."""
        said = json.loads(text)
        told = self._told(said)
        return json.dumps(panel(self._under(said), said["block"], told, said["name"], self._render))

    def item(self, text: str) -> str:
        """One line with its boxes: as `live`, with its "key"."""
        said = json.loads(text)
        return json.dumps(item(self._under(said), said["key"], self._told(said), self._render))

    def page(self, text: str) -> str:
        """What a page of the record shows: {"page": "part" | "overview" | "closing" | "dial",
        "block", "now", "waiting", "panel_boxes"} to its title and {id: HTML}."""
        said = json.loads(text)
        typed = said.get("panel_boxes", {})
        at = whole.here(self._under(said), self._moment(said["now"]), typed)
        if said["page"] == "overview":
            return json.dumps(whole.overview(at, said["address"], self._render))
        if said["page"] == "closing":
            return json.dumps(whole.closing(at, self._render))
        block = whole.dials(at) if said["page"] == "dial" else said["block"]
        return json.dumps({"block": block, **whole.page(at, block, self._render)})

    def saved(self, text: str) -> str:
        """A line that was left: {"key", "typed", "shown", "now", "waiting"} to HTML and status."""
        said = json.loads(text)
        at = whole.here(self._under(said), self._moment(said["now"]), said["typed"])
        return json.dumps(whole.saved(at, said["key"], said["shown"], said["typed"], self._render))

    def going(self, text: str) -> str:
        """Where a saved page leads: {"block", "shown", "now", "waiting"} to a page and a line."""
        said = json.loads(text)
        at = whole.here(self._under(said), self._moment(said["now"]))
        going = whole.next_page(at, self.handed, said["block"], said["shown"])
        return json.dumps(
            {
                "block": going.block.key if going.block else "",
                "line": going.opened.dom_id if going.opened else "",
            }
        )

    def first(self, text: str) -> str:
        """Where the record goes on: {"now", "waiting"} to a page, "" where nothing is open."""
        said = json.loads(text)
        at = whole.here(self._under(said), self._moment(said["now"]))
        return json.dumps({"block": whole.first_page(at)})

    @property
    def handed(self) -> Handed:
        if self._handed is None:
            raise WrongState("No record lies open here.")
        return self._handed

    def _under(self, said: Mapping[str, Any]) -> Handed:
        """What was handed over, with the acts that wait; worked out once for the same acts."""
        waiting = said.get("waiting", [])
        if not waiting:
            return self.handed
        names = [act["uuid"] for act in waiting]
        if self._laid is None or self._laid[0] != names:
            facts = with_acts(
                self.handed.facts, waiting, by=self.handed.person, moment=self._moment
            )
            self._laid = names, replace(self.handed, facts=facts)
        return self._laid[1]

    def _told(self, said: Mapping[str, Any]) -> Told:
        return Told(
            now=self._moment(said["now"]),
            typed=[Typed.of_act(act, self._moment(act["at"])) for act in said["acts"]],
            panel_boxes=said.get("panel_boxes", {}),
        )

    def _moment(self, text: str) -> datetime:
        return datetime.fromisoformat(text).astimezone(self._zone)
