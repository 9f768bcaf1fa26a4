"""A typed answer, read: what its kind of line makes of the text, and what it refuses."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from equipment.engineering.errors import EngineeringError
from equipment.engineering.names import Oxidant
from equipment.engineering.oxidant.solutions import PEROXIDE_EYE_PERCENT
from equipment.engineering.units import number
from equipment.quantities import MEASURED, Between, PlaceName, read_typed, warning_for
from jobs.errors import BadEntry

from .facts import Line, Product
from .kinds import KEPT_BY_PAGE, LineKind


@dataclass(frozen=True)
class ReadAnswer(Between):
    """`value` in the canonical unit of its quantity, None for words; `other` ends a range."""

    text: str
    value: float | None = None
    comparator: str = "="
    warning: str = ""
    other: float | None = None

    @property
    def is_ticked(self) -> bool:
        return self.text == "yes"


def read_answer(line: Line, text: str, unit: str = "", dilution: float = 1.0) -> ReadAnswer:
    """What was typed, or a BadEntry whose sentence names the line and says what is right."""
    text = text.strip()
    kind = LineKind(line.kind)
    if not text:
        return ReadAnswer("")
    if kind == kind.QUANTITY:
        return _read_quantity(line, text, unit, dilution)
    if kind == kind.NUMBER:
        return _read_number(line, text)
    if kind == kind.TICK and text != "yes":
        raise BadEntry(f"{line.label}: is ticked or left open.", field=line.key)
    if kind == kind.CHOICE and text not in dict(line.choices):
        words = ", ".join(label for _, label in line.choices)
        raise BadEntry(f"{line.label}: choose one of {words}.", field=line.key)
    if kind == kind.CYCLES and set(text.split()) - set(dict(line.choices)):
        words = ", ".join(label for _, label in line.choices)
        raise BadEntry(f"{line.label}: each cycle ends with one of {words}.", field=line.key)
    if kind in KEPT_BY_PAGE:
        raise BadEntry(f"{line.label}: is kept by the page, not typed.", field=line.key)
    return ReadAnswer(text)


def _read_quantity(line: Line, text: str, unit: str, dilution: float) -> ReadAnswer:
    if dilution < 1:
        raise BadEntry(f"{line.label}: the dilution factor is 1 or more.", field=line.key)
    try:
        typed = read_typed(line.quantity_key, text, unit, dilution)
    except EngineeringError as refusal:
        raise BadEntry(f"{line.label}: {refusal.message}.", field=line.key) from refusal
    warning = warning_for(line.quantity_key, typed)
    for end in (typed.value, typed.other):
        if end is not None:
            _hard(line, end, MEASURED[line.quantity_key].unit)
            warning = warning or _unusual(line, end)
    return ReadAnswer(text, typed.value, typed.comparator, warning, typed.other)


def _read_number(line: Line, text: str) -> ReadAnswer:
    try:
        value = number(line.label, text.replace(",", "."))
    except EngineeringError as refusal:
        raise BadEntry(f"{line.label}: {refusal.message}.", field=line.key) from refusal
    _hard(line, value, "")
    return ReadAnswer(text, value, warning=_unusual(line, value))


def _hard(line: Line, value: float, unit: str) -> None:
    low, high = line.hard_min, line.hard_max
    if (low is None or value >= low) and (high is None or value <= high):
        return
    bounds = [f"{low:g} or more" if low is not None else "", f"at most {high:g}" if high else ""]
    words = " and ".join(part for part in bounds if part)
    raise BadEntry(f"{line.label}: must be {words} {unit}".rstrip() + ".", field=line.key)


def _unusual(line: Line, value: float) -> str:
    if line.warn_min is not None and value < line.warn_min:
        return f"Unusual: below {line.warn_min:g} is seldom right."
    if line.warn_max is not None and value > line.warn_max:
        return f"Unusual: above {line.warn_max:g} is seldom right."
    return ""


def strength_remark(
    line: Line, read: ReadAnswer, product: Product | None, company: Mapping[str, float]
) -> str:
    """The warning a label strength deserves; peroxide above the company's limit is refused."""
    if line.quantity_key != "strength_percent" or read.value is None or product is None:
        return ""
    if product.oxidant == Oxidant.PEROXIDE and line.place == PlaceName.LABEL:
        limit = company["peroxide_limit_percent"]
        if read.value > limit:
            raise BadEntry(
                f"{line.label}: peroxide on site is at most {limit:g} percent.", field=line.key
            )
        if read.value >= PEROXIDE_EYE_PERCENT:
            return (
                f"{PEROXIDE_EYE_PERCENT:g} percent or more damages eyes for good: "
                "eye cover and gloves on."
            )
    if line.place == PlaceName.LABEL and abs(read.value - product.label_strength_percent) > 0.05 * (
        product.label_strength_percent
    ):
        return (
            f"The product on file has {product.label_strength_percent:g} percent; "
            "settings were worked out for that."
        )
    return ""
