"""Answers: frozen dataclasses whose fields know their unit.

A calculation returns a subclass of Answer. Each result field is declared with `result(unit,
help)`; None means "does not apply" and is left out of what is shown. Warnings ask for a second
look, cautions concern people and property, sources say where the method comes from.
"""

from __future__ import annotations

import dataclasses
import functools
from dataclasses import dataclass, field
from typing import Any, ClassVar, dataclass_transform, overload

from .units import Quantity, quantity, size_in


@dataclass(frozen=True)
class Interval:
    """A range from low to high, both Quantities of one dimension."""

    low: Quantity
    high: Quantity


#: ready for JSON; what stands under a name depends on the calculation
Json = dict[str, Any]


def result(unit_name: str, help_text: str) -> Any:
    """A result field: unit "" for a bare number, text or true/false."""
    return field(default=None, metadata={"unit": unit_name, "help": help_text})


@dataclass_transform(frozen_default=True, kw_only_default=True)
@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Answer:
    """What every calculation returns; each subclass is a frozen dataclass by being one."""

    method: ClassVar[str] = ""

    warnings: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    #: lines of the formula with the numbers put in, for people
    working: tuple[str, ...] = ()

    def __init_subclass__(cls) -> None:
        """Words, comparing and printing are inherited: made for each class they take as long to
        import as the calculations themselves."""
        cls.__doc__ = cls.__doc__ or Answer.__doc__
        dataclass(frozen=True, kw_only=True, eq=False, repr=False)(cls)

    def __eq__(self, other: object) -> bool:
        return type(other) is type(self) and vars(other) == vars(self)

    def __repr__(self) -> str:
        shown = ", ".join(f"{name}={value!r}" for name, value in vars(self).items())
        return f"{type(self).__name__}({shown})"

    @classmethod
    @functools.cache
    def result_fields(cls) -> tuple[dataclasses.Field[Any], ...]:
        return tuple(f for f in dataclasses.fields(cls) if "unit" in f.metadata)

    def results(self) -> Json:
        """Every result that applies, as plain values in its canonical unit."""
        shown = {}
        for spec in self.result_fields():
            value = getattr(self, spec.name)
            if value is not None:
                shown[spec.name] = plain(value, spec.metadata["unit"])
        return shown


def plain(value: object, unit_name: str) -> Any:
    """One result or input as JSON-ready data."""
    if isinstance(value, (list, tuple)):
        return [plain(item, unit_name) for item in value]
    if isinstance(value, Interval):
        return {
            "low": plain(value.low, unit_name)["value"],
            "high": plain(value.high, unit_name)["value"],
            "unit": unit_name,
        }
    if isinstance(value, Quantity):
        return {"value": size_in(value, unit_name), "unit": unit_name}
    return {"value": value, "unit": unit_name if isinstance(value, (int, float)) else ""}


@overload
def q(value: float, unit_name: str) -> Quantity: ...
@overload
def q(value: float | None, unit_name: str) -> Quantity | None: ...
def q(value: float | None, unit_name: str) -> Quantity | None:
    """Wrap a plain number of the private body into the result's unit; None stays None."""
    return None if value is None else quantity(value, unit_name)
