"""Facts of a treatment train, and the plan made of them: dataclasses that rules and sums share."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from equipment.engineering import registry
from equipment.engineering.names import Switching
from equipment.engineering.results import Answer, Json
from equipment.engineering.units import Quantity, size_in

METHOD = "train-plan/3"


#: runs when the well pump runs; runs when the house draws
FOLLOWS_PUMP = (Switching.SWITCH_LOAD, Switching.CURRENT_RELAY, Switching.DRIVE_CONTACT)
FOLLOWS_FLOW = (Switching.FLOW_SWITCH, Switching.METERED)


@dataclass(frozen=True, kw_only=True)
class Water:
    """Raw water; iron to hardness in mg/L (hardness as CaCO3), pH a bare number."""

    iron: Quantity | None = None
    manganese: Quantity | None = None
    sulfide: Quantity | None = None
    ammonia: Quantity | None = None
    hardness: Quantity | None = None
    ph: float | None = None
    temperature: Quantity | None = None


@dataclass(frozen=True, kw_only=True)
class Source:
    """The well and what stands behind it up to the house."""

    pump_flow: Quantity | None = None
    flow_low: Quantity | None = None
    flow_high: Quantity | None = None
    well_yield: Quantity | None = None
    stored_volume: Quantity | None = None
    drawdown: Quantity | None = None
    cut_out: Quantity | None = None
    constant_pressure: bool = False


@dataclass(frozen=True, kw_only=True)
class House:
    people: float | None = None
    daily_use: Quantity | None = None
    peak_flow: Quantity | None = None


@dataclass(frozen=True, kw_only=True)
class Feeder:
    """The dosing pump and its solution; "" and None where not known."""

    oxidant: str = ""
    strength: Quantity | None = None
    output: Quantity | None = None
    is_timer: bool = False
    cycle: Quantity | None = None
    rated_pressure: Quantity | None = None
    tank_volume: Quantity | None = None
    shelf_life: Quantity | None = None
    maximum_use_level: Quantity | None = None
    #: volts of its motor and of the circuit it is joined to
    voltage: int | None = None
    circuit_voltage: int | None = None
    switching: str = ""
    injection: str = ""

    @property
    def follows_pump(self) -> bool:
        return self.switching in FOLLOWS_PUMP

    @property
    def follows_flow(self) -> bool:
        return self.switching in FOLLOWS_FLOW


@dataclass(frozen=True, kw_only=True)
class Part:
    """One part, in the order the water meets them."""

    key: str
    label: str
    kind: str  # retention, filter, softener, neutralizer, cartridge, uv, ...
    #: meets the oxidant
    behind_feeder: bool = True
    volume: Quantity | None = None
    baffling_factor: float | None = None
    side: str = ""  # before or after the pressure tank
    diameter: Quantity | None = None
    bed_depth: Quantity | None = None
    bed_volume: Quantity | None = None
    count: int = 1
    wash_rate: Quantity | None = None
    wash_rate_high: Quantity | None = None
    #: free height above the bed
    freeboard: Quantity | None = None
    rate_temperature: Quantity | None = None
    interval_cap: Quantity | None = None
    loading_limit: Quantity | None = None
    is_carbon: bool = False
    is_manganese_oxide: bool = False
    iron_limit: Quantity | None = None
    salt_dose: Quantity | None = None
    wash_hour: float | None = None


@dataclass(frozen=True, kw_only=True)
class Facts:
    water: Water = Water()
    source: Source = Source()
    house: House = House()
    feeder: Feeder | None = None
    parts: tuple[Part, ...] = ()
    #: residual aimed at after retention, and the shortest retention of the company
    residual: Quantity | None = None
    retention_minimum: Quantity | None = None


@dataclass(frozen=True)
class Step:
    """One calculation of the plan: its answer, or the sentence that says what it lacks."""

    name: str
    part: str
    values: dict[str, object]
    answer: Answer | None
    refusal: str = ""

    def as_json(self) -> Json:
        entry = registry.calculation(self.name)
        if self.answer is None:
            return {"name": self.name, "part": self.part, "refusal": self.refusal}
        return {"part": self.part, **entry.as_json(self.values, self.answer)}


@dataclass(frozen=True)
class Conflict:
    """What does not fit, the figure that shows it, and what to do. Red ones stop a start-up."""

    key: str
    sentence: str
    figure: str
    is_red: bool = False
    remedy: str = ""

    @property
    def lines(self) -> list[str]:
        """What stands under the sentence."""
        return [line for line in (self.figure, self.remedy) if line]

    def as_json(self) -> Json:
        return {
            "key": self.key,
            "sentence": self.sentence,
            "figure": self.figure,
            "remedy": self.remedy,
            "red": self.is_red,
        }


@dataclass
class TrainPlan:
    steps: list[Step] = field(default_factory=list)
    conflicts: list[Conflict] = field(default_factory=list)

    def step(self, name: str, part: str = "") -> Answer | None:
        for step in self.steps:
            if step.name == name and (not part or step.part == part):
                return step.answer
        return None

    def result(self, name: str, key: str, unit: str, part: str = "") -> float | None:
        """One figure of the plan in a unit, None where it does not apply."""
        answer = self.step(name, part)
        value = getattr(answer, key, None) if answer else None
        return None if value is None else size_in(value, unit)

    def as_json(self) -> Json:
        return {
            "method_version": METHOD,
            "steps": [step.as_json() for step in self.steps],
            "conflicts": [conflict.as_json() for conflict in self.conflicts],
        }


#: what contradicts what: asked of the facts and of what was worked out from them
Rule = Callable[[Facts, TrainPlan], Iterator[Conflict]]


def size_of(value: Quantity | None, unit: str) -> float | None:
    return None if value is None else size_in(value, unit)


def said(value: Quantity | None, unit: str, what: str) -> str:
    number = size_of(value, unit)
    return f"{what} not known" if number is None else f"{number:.3g} {unit} {what}"
