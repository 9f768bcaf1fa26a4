"""Every calculation under its name, with its keys and results.

`CALCULATIONS` is filled by the modules of this package when they are imported by `load()`, and
by other packages through `register`. Text goes in through `read_inputs`, an Answer comes out of
`Calculation.run`, and `as_json` gives the form that the compute command prints.
"""

from __future__ import annotations

import functools
import importlib
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from .errors import EngineeringError, MissingInput, OutOfRange, WrongInput
from .results import Answer, Json, plain
from .units import Quantity, entered_unit, fits, magnitude, number, read_quantity, split_typed

#: a limit typed in another unit (1828.8 mm for 72 in) must not fail on its last digit
ROUNDING = 1e-6

MODULES = (
    "water.properties",
    "water.well_water",
    "water.open_water",
    "disinfection.chlorine",
    "oxidant.oxidants",
    "oxidant.solutions",
    "oxidant.dry_mix",
    "oxidant.strength_loss",
    "oxidant.feeding",
    "oxidant.feed_setting",
    "oxidant.permanganate",
    "oxidant.ripple",
    "oxidant.cycles",
    "disinfection.contact",
    "disinfection.retention",
    "water.gas",
    "disinfection.shock",
    "disinfection.plumbing_water",
    "disinfection.dechlorination",
    "beds.vessel",
    "beds.backwash",
    "beds.cycles",
    "beds.expansion",
    "beds.intervals",
    "beds.softening",
    "plumbing.tank",
    "plumbing.well_pump",
    "plumbing.pipes",
    "plumbing.demand",
    "water.balance",
    "water.neutralizer",
    "oxidant.dial_in",
)


@dataclass(frozen=True, kw_only=True)
class Key:
    """One input of a calculation.

    kind      quantity (text "8 gpm" -> Quantity), number (bare), choice, bool, size ("3/4 in"),
              or repeated (own reader, given many times)
    unit      canonical unit, "" for a bare number
    units     further units of another dimension that are taken as well, e.g. percent or g/L
    words     words taken in place of a value, e.g. unknown
    low, high allowed range in the canonical unit (checked when given; low_open: above, not at)
    """

    name: str
    help: str
    kind: str = "quantity"
    unit: str = ""
    units: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    choices: tuple[str, ...] = ()
    required: bool = False
    default: str = ""
    low: float | None = None
    high: float | None = None
    low_open: bool = False
    reader: Callable[[str, str], object] | None = None

    @property
    def range_text(self) -> str:
        if self.low is None and self.high is None:
            return ""
        if self.high is None:
            return f"above {self.low:g}" if self.low_open else f"{self.low:g} or more"
        if self.low is None:
            return f"at most {self.high:g}"
        if self.low_open:
            return f"above {self.low:g} and at most {self.high:g}"
        return f"{self.low:g} to {self.high:g}"

    def read(self, text: str) -> object:
        """The typed text as the value the function takes."""
        text = text.strip()
        if not text:
            raise WrongInput(self.name, "is empty")
        if text in self.words:
            return text
        if self.kind == "repeated":
            assert self.reader is not None
            return self.reader(self.name, text)
        if self.kind == "choice":
            if text not in self.choices:
                raise WrongInput(
                    self.name, f"{text[:30]!r} is not one of {', '.join(self.choices)}"
                )
            return text
        if self.kind == "bool":
            return _read_bool(self.name, text)
        if self.kind == "size":
            return _read_size(self.name, text)
        value = self._read_number(text)
        self.check(value)
        return value

    def _read_number(self, text: str) -> Quantity | float:
        if self.kind == "number":
            if text.endswith("%") or text.endswith("percent"):
                raise WrongInput(
                    self.name, "takes a bare number, for example 0.95 and not 95 percent"
                )
            return number(self.name, text)
        for other in self.units:
            try:
                return read_quantity(self.name, text, other)
            except EngineeringError:
                continue
        return read_quantity(self.name, text, self.unit)

    def amount(self, value: Quantity | float) -> float:
        """A function's argument as a plain number in the canonical unit, inside the range."""
        size = magnitude(self.name, value, self.unit) if self.unit else float(value)
        if not math.isfinite(size):
            raise WrongInput(self.name, "is not a finite number")
        if not self._is_of_another_kind(value):
            self._check_size(size)
        return size

    def optional(self, value: Quantity | float | None) -> float | None:
        """The same for an argument that may be left out."""
        return None if value is None else self.amount(value)

    def check(self, value: Quantity | float) -> None:
        """Refuse a value outside low..high (only if it has the canonical dimension)."""
        if self._is_of_another_kind(value):
            return
        is_quantity = isinstance(value, Quantity)
        self._check_size(magnitude(self.name, value, self.unit) if is_quantity else float(value))

    def _is_of_another_kind(self, value: object) -> bool:
        """One of the further units, to which low and high do not apply."""
        if not self.units or not isinstance(value, Quantity):
            return False
        percent = entered_unit(value) == "percent"
        return not fits(value, self.unit) or (self.unit == "percent") != percent

    def _check_size(self, size: float) -> None:
        low, high = self._bounds
        if low <= size <= high and not (self.low_open and size == self.low):
            return
        unit = f" {self.unit}" if self.unit else ""
        raise OutOfRange(self.name, f"must be {self.range_text}{unit}, got {size:g}{unit}")

    @functools.cached_property
    def _bounds(self) -> tuple[float, float]:
        low = -math.inf if self.low is None else self.low
        high = math.inf if self.high is None else self.high
        slack = 0 if self.low_open else abs(low) * ROUNDING
        return low - slack, high + abs(high) * ROUNDING


def _read_bool(key: str, text: str) -> bool:
    if text.lower() in ("true", "yes", "1"):
        return True
    if text.lower() in ("false", "no", "0"):
        return False
    raise WrongInput(key, f"{text[:30]!r} is not true or false")


def _read_size(key: str, text: str) -> str:
    """A nominal size as the tables print it: "3/4 in", "1 1/4 in"."""
    bare = text.removesuffix("inch").removesuffix("in").removesuffix('"').strip()
    number(key, bare)
    if bare == text:
        raise WrongInput(key, f"needs a unit, for example {bare} in")
    return f"{' '.join(bare.replace('-', ' ').split())} in"


@dataclass(frozen=True, kw_only=True)
class Calculation:
    """One name of the registry."""

    name: str
    title: str
    function: Callable[..., Answer]
    answer: type[Answer]
    keys: tuple[Key, ...]

    @property
    def room(self) -> str:
        """The package of the engineering it stands in, "" for one of another package."""
        words = self.function.__module__.split(".")
        return words[2] if words[:2] == ["equipment", "engineering"] else ""

    def key(self, name: str) -> Key:
        for key in self.keys:
            if key.name == name:
                return key
        known = ", ".join(key.name for key in self.keys)
        raise WrongInput(name, f"is not a key of {self.name}; the keys are {known}")

    def read_inputs(self, pairs: Iterable[tuple[str, str]]) -> dict[str, object]:
        """Typed key and text pairs as arguments of the function."""
        values: dict[str, object] = {}
        repeated: dict[str, list[object]] = {}
        for name, text in pairs:
            key = self.key(name)
            if key.kind == "repeated":
                values[name] = repeated.setdefault(name, [])
                repeated[name].append(key.read(text))
            elif name in values:
                raise WrongInput(name, "is given twice")
            else:
                values[name] = key.read(text)
        for key in self.keys:
            if key.required and key.name not in values:
                raise MissingInput(key.name, f"is missing; {key.help}")
        return values

    def run(self, values: Mapping[str, object]) -> Answer:
        return self.function(**values)

    def as_json(self, values: Mapping[str, object], answer: Answer) -> Json:
        return {
            "name": self.name,
            "method_version": answer.method,
            "inputs": {name: self._plain_input(name, value) for name, value in values.items()},
            "results": answer.results(),
            "warnings": list(answer.warnings),
            "cautions": list(answer.cautions),
            "sources": list(answer.sources),
        }

    def _plain_input(self, name: str, value: object) -> Any:
        """An input as entered: same number, same unit."""
        if isinstance(value, list):
            return [self._plain_input(name, item) for item in value]
        if isinstance(value, Quantity):
            return plain(value, entered_unit(value))
        if hasattr(value, "as_json"):
            return value.as_json()
        return plain(value, "")


CALCULATIONS: dict[str, Calculation] = {}
#: answers, the newest: a key changes the texts of one or two calculations of those on a page
REMEMBERED = 128


def register(calculation: Calculation) -> Calculation:
    if calculation.name in CALCULATIONS and CALCULATIONS[calculation.name] != calculation:
        raise ValueError(f"{calculation.name} is registered twice")
    CALCULATIONS[calculation.name] = calculation
    return calculation


def load() -> dict[str, Calculation]:
    """All calculations of this package, by name."""
    _import_all()
    return CALCULATIONS


@functools.cache
def _import_all() -> None:
    for module in MODULES:
        importlib.import_module(f"{__package__}.{module}")


def calculation(name: str) -> Calculation:
    load()
    if name not in CALCULATIONS:
        raise WrongInput("name", f"{name[:40]!r} is not a calculation; compute --list names them")
    return CALCULATIONS[name]


def compute(name: str, **texts: str | list[str]) -> tuple[Json, Answer]:
    """From typed texts to the JSON object and the Answer; blank texts are left out.

    The same texts get the same two objects for a while: nobody changes them.
    """
    pairs = tuple(
        (key, text)
        for key, given in texts.items()
        for text in (given if isinstance(given, list) else [given])
        if str(text).strip()
    )
    return _computed(name, pairs)


@functools.lru_cache(maxsize=REMEMBERED)
def _computed(name: str, pairs: tuple[tuple[str, str], ...]) -> tuple[Json, Answer]:
    entry = calculation(name)
    values = entry.read_inputs(pairs)
    answer = entry.run(values)
    return entry.as_json(values, answer), answer


__all__ = [
    "CALCULATIONS",
    "Calculation",
    "Key",
    "calculation",
    "compute",
    "entered_unit",
    "load",
    "register",
    "split_typed",
]
