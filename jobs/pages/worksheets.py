"""A calculation on a page of its own: its form and its answer, for the call before any site."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from django.http import QueryDict

from equipment.engineering.errors import EngineeringError
from equipment.engineering.registry import Calculation, Key, load
from equipment.engineering.results import Answer, Interval
from equipment.engineering.unit_systems import offered, unit_for
from equipment.engineering.units import Quantity, size_in, split_typed
from equipment.quantities import MEASURED, read_typed, warning_for
from jobs.fieldwork.glass import Glass
from jobs.wording.results import words_for

#: heads, the rooms of the engineering whose calculations stand under them, and which come first
GROUPS: tuple[tuple[str, tuple[str, ...], tuple[str, ...]], ...] = (
    (
        "Well and disinfection",
        ("disinfection",),
        (
            "well-volume",
            "plumbing-volume",
            "shock-chlorination",
            "dechlorination",
            "hypochlorous",
            "contact",
            "retention-size",
            "turnover",
        ),
    ),
    (
        "Oxidant and dosing pump",
        ("oxidant",),
        (
            "oxidant-demand",
            "permanganate",
            "solution-strength",
            "solution-top-up",
            "strength-age",
            "feeder-calibration",
            "feed-setting",
            "dose-from-setting",
            "dose-ripple",
            "timer-cycle",
            "dial-in",
            "off-gas",
            "oxygen-saturation",
        ),
    ),
    (
        "Filters and softeners",
        ("beds",),
        (
            "bed",
            "backwash",
            "bucket-flow",
            "bed-expansion",
            "media-fill",
            "filter-interval",
            "softener",
            "brine-refill",
            "neutralizer",
        ),
    ),
    (
        "Well pump, tank and pipes",
        ("plumbing",),
        (
            "well-flow",
            "well-yield",
            "pump-curve",
            "pressure-tank",
            "peak-demand",
            "pipe-volume",
            "friction",
        ),
    ),
    ("Water", ("water",), ("water-properties", "saturation-index", "carbon-dioxide")),
    ("Counting", (), ("callback-rate", "observed-expected", "funnel-limits", "survival")),
)


@dataclass
class Box:
    """One input of the page, as typed."""

    key: Key
    text: str = ""
    unit: str = ""
    units: tuple[str, ...] = ()
    error: str = ""
    warning: str = ""

    @property
    def kind(self) -> str:
        return "choice" if self.key.kind in ("choice", "bool") else self.key.kind

    @property
    def label(self) -> str:
        return self.key.name.replace("_", " ").capitalize().replace("Ph", "pH")

    @property
    def hint(self) -> str:
        return spoken(self.key.help)

    @property
    def options(self) -> tuple[str, ...]:
        return self.key.choices if self.key.kind == "choice" else ("true", "false")

    @property
    def full_text(self) -> str:
        """What the calculation reads: the unit box fills a missing unit."""
        text = self.text.strip().replace(",", ".")
        if self.key.kind == "size" and text[-1:].isdigit():
            return f"{text} in"
        if self.key.kind != "quantity" or not text or text in self.key.words:
            return text
        try:
            _, named = split_typed(self.key.name, text)
        except EngineeringError:
            return text
        return text if named else f"{text} {self.unit}"


@dataclass
class Worksheet:
    entry: Calculation
    boxes: list[Box]
    system: str = "us"
    answer: Answer | None = None
    waiting: str = ""
    whole_error: str = ""
    values: dict[str, object] = field(default_factory=dict)

    @property
    def is_touched(self) -> bool:
        return any(box.text.strip() for box in self.boxes)

    def box(self, name: str) -> Box | None:
        return next((box for box in self.boxes if box.key.name == name), None)

    def rows(self) -> list[tuple[str, str, str]]:
        """Label, figure and unit of each result, in the person's units."""
        if self.answer is None:
            return []
        shown = []
        for spec in self.answer.result_fields():
            value = getattr(self.answer, spec.name)
            if value is not None:
                name = unit_for(spec.metadata["unit"], self.system)
                label = words_for(spec.name)
                shown.append((label, result_text(value, name), name))
        return shown


def result_text(value: object, unit_name: str) -> str:
    if isinstance(value, Interval):
        low, high = result_text(value.low, unit_name), result_text(value.high, unit_name)
        return f"{low} to {high}"
    if isinstance(value, (list, tuple)):
        return ", ".join(result_text(item, unit_name) for item in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Quantity):
        value = size_in(value, unit_name)
    if not isinstance(value, (int, float)):
        return str(value)
    return f"{value:.0f}" if 1e4 <= abs(value) < 1e15 else f"{value:.4g}"


def spoken(sentence: str) -> str:
    """Names of keys in a sentence as words."""
    return re.sub(r"(?<=[a-z])_(?=[a-z0-9])", " ", sentence)


def groups(names: set[str]) -> list[tuple[str, list[Calculation]]]:
    """Worksheets under their heads; one that no head names stands under that of its room."""
    entries = {name: entry for name, entry in load().items() if name in names}
    first = {name for _, _, members in GROUPS for name in members}
    rest = [entry for name, entry in sorted(entries.items()) if name not in first]
    headed = [
        (title, [entries[n] for n in members if n in entries] + _of_rooms(rest, rooms))
        for title, rooms, members in GROUPS
    ]
    return [(title, members) for title, members in headed if members]


def _of_rooms(entries: list[Calculation], rooms: tuple[str, ...]) -> list[Calculation]:
    return [entry for entry in entries if entry.room in rooms]


def open_worksheet(entry: Calculation, data: QueryDict, system: str) -> Worksheet:
    """The page as typed so far, computed if it can be. Nothing is raised."""
    boxes = []
    for key in entry.keys:
        units = offered(key.unit, system, key.units) if key.kind == "quantity" else ()
        wanted = data.get(f"{key.name}.unit", "")
        boxes.append(
            Box(
                key,
                data.get(key.name, ""),
                wanted if wanted in units else (units or ("",))[0],
                units,
            )
        )
    sheet = Worksheet(entry, boxes, system)
    if sheet.is_touched:
        _compute(sheet)
    return sheet


def _compute(sheet: Worksheet) -> None:
    missing = [box for box in sheet.boxes if box.key.required and not box.text.strip()]
    for box in sheet.boxes:
        _read(box, sheet.values)
    if any(box.error for box in sheet.boxes):
        return
    if missing:
        sheet.waiting = "needs the " + missing[0].label.lower()
        return
    try:
        sheet.answer = sheet.entry.run(sheet.values)
    except EngineeringError as refused:
        at_fault = sheet.box(refused.key)
        if at_fault and at_fault.text.strip():
            at_fault.error = spoken(f"{at_fault.label} {refused.message}.")
        elif at_fault:
            sheet.waiting = spoken(f"needs the {at_fault.label.lower()}: {refused.message}")
        else:
            sheet.whole_error = spoken(f"{refused.message}.")


def _read(box: Box, values: dict[str, object]) -> None:
    if not box.text.strip():
        return
    try:
        if box.key.kind == "repeated":
            lines = [line for line in box.text.splitlines() if line.strip()]
            values[box.key.name] = [box.key.read(line.strip()) for line in lines]
        else:
            values[box.key.name] = box.key.read(box.full_text)
    except EngineeringError as refused:
        box.error = spoken(f"{box.label} {refused.message}.") + _other_unit(box)
        return
    if box.key.name in MEASURED and box.key.kind == "quantity":
        box.warning = _slip(box)


def _other_unit(box: Box) -> str:
    """The unit of this box in which the same number would be taken, as a question."""
    for name in box.units:
        try:
            if name != box.unit and box.key.kind == "quantity":
                box.key.read(f"{box.text.strip()} {name}")
                return f" Did you mean {name}?"
        except EngineeringError:
            continue
    return ""


def _slip(box: Box) -> str:
    """A second look at a figure that would be usual in another unit."""
    try:
        return warning_for(box.key.name, read_typed(box.key.name, box.text, box.unit))
    except EngineeringError:
        return ""


def glass_of(sheet: Worksheet) -> Glass:
    """The measuring glass of a worksheet."""
    rows, answer = sheet.rows(), sheet.answer
    if answer is None or not rows:
        is_refused = any(box.error for box in sheet.boxes) or sheet.whole_error
        waiting = "waits for what is marked beside the figures" if is_refused else ""
        said = sheet.waiting or waiting or "needs the figures beside it"
        return Glass(sheet.entry.title, waiting=said)
    label, figure, unit = rows[0]
    return Glass(
        label,
        answer=figure,
        unit=unit,
        rows=rows[1:],
        warnings=[spoken(text) for text in answer.warnings],
        cautions=[spoken(text) for text in answer.cautions],
        working=answer.working,
        sources=answer.sources,
        method=answer.method,
    )
