"""Every kind of act: what does it, and which words of it say which box it is about."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from jobs.workflows.acts import Done

from . import on_houses, on_photos, on_records, on_steps, on_visits
from .doing import Doing


@dataclass(frozen=True)
class Kind:
    run: Callable[[Doing], Done]
    #: acts of one group in one box take each other's place
    group: str
    box: tuple[str, ...] = ()

    def box_of(self, about: str, payload: Mapping[str, Any]) -> str:
        words = (str(payload.get(name) or "")[:60] for name in self.box)
        return "/".join((about, self.group, *words))


#: where one act does not take another's place, its own name is its box
OWN = ("uuid",)
STEP = ("step", "number", "needs")
ANSWER = ("line", "stage", "side")
KINDS: dict[str, Kind] = {
    "answer": Kind(on_records.answer, "answer", ANSWER),
    "skip": Kind(on_records.skip, "answer", ANSWER),
    "override": Kind(on_records.override, "override", ("line",)),
    "override-back": Kind(on_records.override_back, "override", ("line",)),
    "acknowledge": Kind(on_records.acknowledge, "acknowledge", ("caution",)),
    "timer-start": Kind(on_records.timer_start, "timer", ("line",)),
    "timer-stop": Kind(on_records.timer_stop, "timer", ("line",)),
    "timer-again": Kind(on_records.timer_again, "timer", ("line",)),
    "timer-undo": Kind(on_records.timer_undo, "timer", ("line",)),
    "pour": Kind(on_records.pour, "pour"),
    "record-open": Kind(on_records.record_open, "record-open"),
    "record-close": Kind(on_records.record_close, "record-close"),
    "step-set": Kind(on_steps.step_set, "step-set", OWN),
    "step-read": Kind(on_steps.step_read, "step-read", STEP),
    "step-skip": Kind(on_steps.step_skip, "step-read", STEP),
    "step-keep": Kind(on_steps.step_keep, "step-keep"),
    "step-checked": Kind(on_steps.step_checked, "step-checked", STEP),
    "step-leave": Kind(on_steps.step_leave, "step-keep"),
    "strips": Kind(on_steps.strips, "strips"),
    "set-out": Kind(on_visits.set_out, "set-out"),
    "arrive": Kind(on_visits.arrive, "arrive"),
    "arrive-undo": Kind(on_visits.arrive_undo, "arrive"),
    "no-access": Kind(on_visits.no_access, "end"),
    "visit-close": Kind(on_visits.visit_close, "end"),
    "photo": Kind(on_photos.photo, "photo", OWN),
    "fill": Kind(on_houses.fill, "fill", OWN),
    "notice": Kind(on_houses.notice, "notice", ("site", "level")),
    "part-new": Kind(on_houses.part_new, "part", OWN),
    "part-replace": Kind(on_houses.part_replace, "part", ("part",)),
    "part-end": Kind(on_houses.part_end, "part", ("part",)),
    "system": Kind(on_houses.system, "system", ("system",)),
    "well": Kind(on_houses.well, "well", ("site", "well")),
}
