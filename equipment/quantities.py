"""Every measured or told figure: its canonical unit, the units it is typed in, and its limits.

Hard limits refuse (physically impossible or dangerous to take for true), warnings ask for one
look and are kept with the reading. Limits are common practice without a source unless a table
in `fixtures/` or a calculation says otherwise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from equipment.engineering.errors import EngineeringError, OutOfRange, WrongInput, WrongUnit
from equipment.engineering.names import PartKind
from equipment.engineering.oxidant.pump_setting import CYCLE, LIMITS, PULSES
from equipment.engineering.spans import ends_typed
from equipment.engineering.units import magnitude, quantity, split_typed, unit
from equipment.engineering.water.standards import (
    CHLORINE_MG_L,
    DISSOLVED_SOLIDS_MG_L,
    IRON_MG_L,
    MANGANESE_MG_L,
    NITRATE_MG_L,
    PH_RANGE,
    SULFIDE_MG_L,
)


class SettingName(StrEnum):
    """Settings left at a part of a system, as they are kept; units in SETTING_UNITS."""

    OUTPUT = "output_percent"
    STRENGTH = "solution_strength_g_l"
    WASH_INTERVAL = "wash_interval_days"
    WASH_HOUR = "wash_hour"
    HARDNESS = "hardness_gpg"
    SALT = "salt_each_lb"


SETTING_UNITS: dict[str, str] = {
    SettingName.OUTPUT: "percent",
    SettingName.STRENGTH: "g/L",
    SettingName.WASH_INTERVAL: "day",
    SettingName.WASH_HOUR: "h",
    SettingName.HARDNESS: "gpg",
    SettingName.SALT: "lb",
}


class PlaceName(StrEnum):
    """Places of a reading that code asks for; a checklist may have more.

    The tap behind a part is AFTER_STAGE with that part; see BEHIND for words that mean one.
    """

    RAW = "raw"
    AFTER_RETENTION = "after_retention"
    AFTER_STAGE = "after_stage"
    TAP = "tap"
    HOT_TAP = "hot_tap"
    OTHER_TAP = "other_tap"
    LABEL = "label"


#: words of checklists, and of older readings, for the tap behind a part: one tap has one place
BEHIND: dict[str, PartKind] = {PlaceName.AFTER_RETENTION: PartKind.RETENTION}


class SamplePlace(StrEnum):
    """Places where a bottle may be filled. Only the first two speak of bacteria for a house."""

    RAW = PlaceName.RAW.value
    KITCHEN = PlaceName.TAP.value
    AFTER_STAGE = PlaceName.AFTER_STAGE.value
    HOT = PlaceName.HOT_TAP.value
    OTHER_TAP = PlaceName.OTHER_TAP.value
    WRITTEN = "as_written"


def place_of_sample(words: str) -> str:
    """The place of a figure of a sample; older ones name their tap in words."""
    words = words.lower()
    if words in set(PlaceName):
        return words
    if "raw" in words:
        return PlaceName.RAW
    return PlaceName.HOT_TAP if "hot" in words else PlaceName.TAP


#: what raw water carries or not, and what calculations treat it for
CARRIED = ("iron", "manganese", "sulfide", "ammonia")
#: read by a kit or strip: nothing found, more than its range, or between two printed values
READ_BY_KIT = (*CARRIED, "hardness", "alkalinity", "nitrate", "chlorine", "peroxide", "ph")
#: of a range the upper end is counted with; of these the lower one, which is the worse of the two
WORSE_WHEN_LOW = ("alkalinity", "ph")
#: the mark of a test that found nothing: its figure is the least it could have seen
NOT_FOUND = "<"


def is_found(value: float | None, comparator: str = "=") -> bool:
    """Whether the water has it: a figure above 0 that is not the limit of a test."""
    return value is not None and value > 0 and comparator != NOT_FOUND


def counted(key: str, value: float, comparator: str = "=") -> float:
    """The figure that calculations count with.

    What the water carries and the test did not find counts as none; of anything else that was
    not found (a residual, a level) the limit of the test is used.
    """
    return 0.0 if key in CARRIED and not is_found(value, comparator) else value


@dataclass(frozen=True, kw_only=True)
class Measured:
    """One kind of figure. `unit` is canonical; `metric` is what metric people type; "" none."""

    key: str
    label: str
    unit: str
    metric: str = ""
    others: tuple[str, ...] = ()
    hard: tuple[float | None, float | None] = (0.0, None)
    warn: tuple[float | None, float | None] = (None, None)
    #: published figures it is compared with
    limit: float | None = None
    limit_low: float | None = None
    limit_from: str = ""

    def is_beyond_limit(self, value: float) -> bool:
        """Above the published figure, or below it where there are two."""
        is_high = self.limit is not None and value > self.limit
        return is_high or (self.limit_low is not None and value < self.limit_low)

    @property
    def units(self) -> tuple[str, ...]:
        """Units offered beside the box, canonical first."""
        named = (self.unit, self.metric, *self.others)
        return tuple(dict.fromkeys(name for name in named if name))

    def unit_for(self, system: str) -> str:
        return self.metric if system == "metric" and self.metric else self.unit


@dataclass(frozen=True)
class Known:
    """A figure a calculation may rest on. `text` is number and unit as the registry reads them."""

    text: str
    origin: str
    value: float | None = None
    unit: str = ""

    @classmethod
    def of(cls, value: float, unit: str, origin: str) -> Known:
        return cls(f"{value:.10g} {unit}".strip(), origin, value, unit)


def _table(*rows: Measured) -> dict[str, Measured]:
    return {row.key: row for row in rows}


MEASURED: dict[str, Measured] = _table(
    # the well
    Measured(key="casing_diameter", label="Casing diameter", unit="in", metric="mm", others=("cm",), hard=(1, 144), warn=(4, 60)),
    Measured(key="casing_2_diameter", label="Diameter below the casing", unit="in", metric="mm", others=("cm",), hard=(1, 144), warn=(4, 60)),
    Measured(key="casing_depth", label="Casing depth", unit="ft", metric="m", hard=(0, 5000), warn=(None, 1000)),
    Measured(key="total_depth", label="Total depth", unit="ft", metric="m", hard=(1, 5000), warn=(None, 1000)),
    Measured(key="box_length", label="Length inside", unit="ft", metric="m", others=("in",), hard=(0.1, 200), warn=(1, 40)),
    Measured(key="box_width", label="Width inside", unit="ft", metric="m", others=("in",), hard=(0.1, 200), warn=(1, 40)),
    Measured(key="box_diameter", label="Diameter inside", unit="ft", metric="m", others=("in",), hard=(0.1, 200), warn=(1, 40)),
    Measured(key="water_depth", label="Depth of the water in it", unit="ft", metric="m", others=("in",), hard=(0.1, 100), warn=(0.5, 20)),
    Measured(key="stored_water", label="Water in spring box or cistern", unit="gal", metric="L", hard=(1, 100000), warn=(20, 20000)),
    Measured(key="static_level", label="Static water level", unit="ft", metric="m", hard=(0, 5000)),
    Measured(key="pumping_level", label="Pumping level", unit="ft", metric="m", hard=(0, 5000)),
    Measured(key="pump_depth", label="Depth of the well pump", unit="ft", metric="m", hard=(0, 5000)),
    Measured(key="well_yield", label="Yield", unit="gpm", metric="L/min", hard=(0, 500), warn=(2, 60)),
    Measured(key="pump_flow", label="Well pump flow while running", unit="gpm", metric="L/min", hard=(0.2, 200), warn=(3, 30)),
    Measured(key="tap_flow", label="Flow of the running tap", unit="gpm", metric="L/min", hard=(0.1, 60), warn=(1, 15)),
    Measured(key="peak_flow", label="Peak draw of the house", unit="gpm", metric="L/min", hard=(0.5, 100), warn=(4, 20)),
    # pressure
    Measured(key="cut_in", label="Cut-in", unit="psi", metric="kPa", others=("bar",), hard=(0, 150), warn=(20, 60)),
    Measured(key="cut_out", label="Cut-out", unit="psi", metric="kPa", others=("bar",), hard=(0, 150), warn=(40, 75)),
    Measured(key="precharge", label="Pre-charge", unit="psi", metric="kPa", others=("bar",), hard=(0, 150), warn=(15, 60)),
    Measured(key="pressure", label="Pressure", unit="psi", metric="kPa", others=("bar",), hard=(0, 150), warn=(None, 80)),
    Measured(key="pressure_drop", label="Pressure drop", unit="psi", metric="kPa", others=("bar",), hard=(0, 60), warn=(None, 10)),
    Measured(key="pressure_tank_volume", label="Pressure tank", unit="gal", metric="L", hard=(1, 500)),
    Measured(key="drawdown_volume", label="Water drawn between cut-out and cut-in", unit="gal", metric="L", hard=(0.1, 200)),
    Measured(key="refill_time", label="Time from cut-in to cut-out", unit="s", others=("min",), hard=(1, 7200)),
    # the house
    Measured(key="people", label="People in the house", unit="", hard=(0, 50), warn=(1, 10)),
    Measured(key="bathrooms", label="Bathrooms", unit="", hard=(0, 20)),
    Measured(key="daily_use", label="Water used in a day", unit="gal", metric="L", hard=(0, 10000), warn=(40, 1000)),
    Measured(key="plumbing_volume", label="Water in the pipes of the house", unit="gal", metric="L", hard=(0, 2000), warn=(20, 400)),
    Measured(key="heater_volume", label="Water heater", unit="gal", metric="L", hard=(0, 500)),
    Measured(key="altitude", label="Altitude", unit="ft", metric="m", hard=(-500, 14000)),
    # raw and treated water
    Measured(key="ph", label="pH", unit="", hard=(0, 14), warn=(5.5, 9.5), limit=PH_RANGE[1], limit_low=PH_RANGE[0], limit_from=f"{PH_RANGE[0]:g} to {PH_RANGE[1]:g}, secondary (40 CFR 143.3)"),
    Measured(key="temperature", label="Water temperature", unit="degC", metric="degC", others=("degF",), hard=(-1, 100), warn=(2, 25)),
    Measured(key="iron", label="Iron", unit="mg/L", hard=(0, 200), warn=(None, 10), limit=IRON_MG_L, limit_from=f"{IRON_MG_L:g}, secondary (40 CFR 143.3)"),
    Measured(key="manganese", label="Manganese", unit="mg/L", hard=(0, 50), warn=(None, 2), limit=MANGANESE_MG_L, limit_from=f"{MANGANESE_MG_L:g}, secondary (40 CFR 143.3)"),
    Measured(key="sulfide", label="Hydrogen sulfide, as H2S", unit="mg/L", hard=(0, 100), warn=(None, 5), limit=SULFIDE_MG_L, limit_from=f"{SULFIDE_MG_L:g}, nuisance (university extension)"),
    Measured(key="ammonia", label="Ammonia, as N", unit="mg/L", hard=(0, 100), warn=(None, 2)),
    Measured(key="hardness", label="Hardness, as CaCO3", unit="mg/L", others=("gpg",), hard=(0, 3000), warn=(None, 600)),
    Measured(key="alkalinity", label="Alkalinity, as CaCO3", unit="mg/L", hard=(0, 2000), warn=(30, None)),
    Measured(key="dissolved_solids", label="Dissolved solids", unit="mg/L", hard=(0, 50000), warn=(None, 500), limit=DISSOLVED_SOLIDS_MG_L, limit_from=f"{DISSOLVED_SOLIDS_MG_L:g}, secondary (40 CFR 143.3)"),
    Measured(key="nitrate", label="Nitrate, as N", unit="mg/L", hard=(0, 300), warn=(None, 10), limit=NITRATE_MG_L, limit_from=f"{NITRATE_MG_L:g}, primary (40 CFR 141.62)"),
    Measured(key="chlorine", label="Free chlorine", unit="mg/L", hard=(0, 2000), warn=(None, 300), limit=CHLORINE_MG_L, limit_from=f"{CHLORINE_MG_L:g}, largest residual level (40 CFR 141.65)"),
    Measured(key="peroxide", label="Peroxide", unit="mg/L", hard=(0, 1000), warn=(None, 100)),
    # solution and feed
    Measured(key="strength_percent", label="Strength on the label", unit="percent", hard=(0.1, 100)),
    Measured(key="strength", label="Strength of the solution", unit="g/L", hard=(0.1, 1000)),
    Measured(key="dry_mass", label="Dry product", unit="oz", metric="g", others=("lb", "kg"), hard=(0.1, 3200)),
    Measured(key="mix_water", label="Solution mixed", unit="gal", metric="L", hard=(0.1, 1000)),
    Measured(key="solution_level", label="Solution in the tank", unit="gal", metric="L", hard=(0, 500)),
    Measured(key="feed_drawn", label="Drawn from the cylinder", unit="mL", hard=(0.1, 10000)),
    Measured(key="feed_time", label="Time of the draw-down", unit="s", others=("min",), hard=(1, 3600)),
    Measured(key="feed_rate", label="Feed", unit="mL/min", hard=(0, 1000)),
    Measured(key="pump_setting", label="Dosing pump setting", unit="percent", hard=(0, 100), warn=(10, 90)),
    Measured(key="pump_cycle", label="Cycle of the timer", unit="s", others=("min",), hard=LIMITS[CYCLE]),
    Measured(key="pump_stroke", label="Stroke of the dosing pump", unit="percent", hard=(0, 100)),
    Measured(key="pump_speed", label="Speed of the dosing pump", unit="percent", hard=(0, 100)),
    Measured(key="pump_pulses", label="Pulses for one stroke", unit="", hard=LIMITS[PULSES]),
    # beds and softeners
    Measured(key="backwash_flow", label="Backwash flow", unit="gpm", metric="L/min", hard=(0, 60), warn=(2, 25)),
    Measured(key="backwash_minute", label="Minute of the backwash when read", unit="min", hard=(0, 240), warn=(5, None)),
    Measured(key="clear_minutes", label="Minutes until clear", unit="min", hard=(0, 240), warn=(3, 30)),
    Measured(key="wash_minutes", label="Minutes of one backwash", unit="min", hard=(1, 120), warn=(5, 20)),
    Measured(key="rinse_minutes", label="Minutes of the rinse after it", unit="min", hard=(0, 120), warn=(2, 20)),
    Measured(key="brine_fall", label="Fall of the brine", unit="in", metric="cm", others=("mm",), hard=(0, 48)),
    Measured(key="brine_minutes", label="Minutes until the brine is drawn", unit="min", hard=(0, 240), warn=(10, 60)),
    Measured(key="wash_interval", label="Backwash interval", unit="day", hard=(0.5, 60), warn=(1, 14)),
    Measured(key="since_wash", label="Water since the last backwash", unit="gal", metric="L", hard=(0, 100000)),
    Measured(key="salt_set", label="Salt for each regeneration", unit="lb", metric="kg", hard=(0.5, 500), warn=(3, 60)),
    Measured(key="salt", label="Salt", unit="lb", metric="kg", hard=(0, 1000)),
)  # fmt: skip


def counted_words(key: str, comparator: str, other: float | None, entered: str) -> str:
    """What is counted of a figure that is no single value, "" where it is one."""
    if other is not None:
        return f"{entered}: the {'lower' if key in WORSE_WHEN_LOW else 'upper'} end is used"
    if comparator != NOT_FOUND:
        return ""
    return f"not found: {'counted as none' if key in CARRIED else 'the limit is used'}"


class Between:
    """A figure of a kit by its ends; `value` is counted with, `other` is the far end of a range."""

    comparator: str
    value: float | None
    other: float | None

    @property
    def low(self) -> float | None:
        """0 where nothing was found."""
        if self.value is None or self.comparator == NOT_FOUND:
            return None if self.value is None else 0.0
        return self.value if self.other is None else min(self.value, self.other)

    @property
    def high(self) -> float | None:
        """Infinity beyond the range of the kit."""
        if self.value is None or self.comparator == ">":
            return None if self.value is None else math.inf
        return self.value if self.other is None else max(self.value, self.other)


@dataclass(frozen=True)
class Typed(Between):
    """A typed figure, read: comparator, canonical value, and as entered."""

    comparator: str
    value: float
    entered: str
    unit: str
    other: float | None = None


def read_typed(key: str, text: str, typed_unit: str = "", dilution: float = 1.0) -> Typed:
    """A figure as typed, such as "0.3", "< 0.05", "250 mg/L"; the unit box fills a missing unit.

    What a kit or strip reads may be a range, "5-10" or "5 to 10": value and other are its ends.
    Raises an EngineeringError whose message says what would be right. Hard limits refuse here.
    """
    kind, bare = MEASURED[key], text.strip().replace("\u2009", "").replace(",", ".")
    comparator, other = "=", None
    ends = ends_typed(bare)
    if ends:
        value, other, name = _read_range(kind, ends, typed_unit, dilution)
        if other == 0:
            comparator, other = NOT_FOUND, None
    else:
        if bare[:1] in "<>" and bare:
            comparator, bare = bare[0], bare[1:].strip()
        value, name = _canonical(kind, bare, typed_unit, dilution)
    low, high = kind.hard
    for end in (value, other):
        if end is None:
            continue
        if (low is not None and end < low) or (high is not None and end > high):
            said = f"must be {limits_text(kind)}, got {text.strip()} {name}"
            raise OutOfRange(kind.label, said)
    return Typed(comparator, value, text.strip(), name, other)


def _canonical(kind: Measured, text: str, typed_unit: str, dilution: float) -> tuple[float, str]:
    """A figure in the canonical unit, and the unit it was typed in."""
    value, named = split_typed(kind.label, text)
    name = named or typed_unit or kind.unit
    if not kind.unit:
        if named:
            raise WrongUnit(kind.label, f"takes a bare number, not {named}")
        return value * dilution, name
    if name not in kind.units and not _fits(name, kind.unit):
        raise WrongUnit(kind.label, f"{name} does not fit, say it in {kind.unit}")
    return magnitude(kind.label, quantity(value, name), kind.unit) * dilution, name


def _read_range(
    kind: Measured, ends: tuple[str, str], typed_unit: str, dilution: float
) -> tuple[float, float | None, str]:
    """What is counted with, the other end, the unit; one that begins at 0 is "not found"."""
    if kind.key not in READ_BY_KIT:
        raise WrongInput(kind.label, "takes one figure: no strip or kit reads it as a range")
    high, name = _canonical(kind, ends[1], typed_unit, dilution)
    low, _ = _canonical(kind, ends[0], name, dilution)
    if high < low:
        raise WrongInput(kind.label, "a range says its lower end first, such as 5-10")
    if high == low:
        return high, None, name
    return (low, high, name) if kind.key in WORSE_WHEN_LOW else (high, low, name)


def _fits(name: str, canonical: str) -> bool:
    try:
        return bool(unit(name).is_compatible_with(unit(canonical)))
    except KeyError:
        return False


def limits_text(kind: Measured) -> str:
    low, high = kind.hard
    unit_text = f" {kind.unit}" if kind.unit else ""
    if low is None:
        return f"at most {high:g}{unit_text}"
    return f"{low:g} or more{unit_text}" if high is None else f"{low:g} to {high:g}{unit_text}"


def warning_for(key: str, typed: Typed) -> str:
    """A sentence when the figure is unusual, "" when it is not; offers another unit if it fits."""
    kind = MEASURED[key]
    low, high = kind.warn
    ends = [end for end in (typed.value, typed.other) if end is not None]
    below, above = (low is not None and min(ends) < low), (high is not None and max(ends) > high)
    if not (below or above):
        return ""
    bounds = [
        f"below {low:g}" if low is not None else "",
        f"above {high:g}" if high is not None else "",
    ]
    usual = " or ".join(part for part in bounds if part)
    sentence = f"Unusual: {usual} {kind.unit}".rstrip() + " is seldom right."
    other = _other_unit(kind, typed) if typed.other is None else ""
    return f"{sentence} Did you mean {other}?" if other else sentence


def _other_unit(kind: Measured, typed: Typed) -> str:
    """Another unit in which the same number would be usual."""
    low, high = kind.warn
    for name in kind.units:
        if name == typed.unit:
            continue
        try:
            number, _ = split_typed(kind.key, typed.entered.lstrip("<> "))
            value = magnitude(kind.key, quantity(number, name), kind.unit)
        except EngineeringError:
            continue
        if (low is None or value >= low) and (high is None or value <= high):
            return name
    return ""


def in_unit(key: str, value: float, name: str) -> float:
    """A canonical value in another unit of its kind."""
    kind = MEASURED[key]
    if not kind.unit or name == kind.unit:
        return value
    return magnitude(key, quantity(value, kind.unit), name)


__all__ = [
    "BEHIND", "CARRIED", "MEASURED", "NOT_FOUND", "Known", "Measured", "Typed", "WrongInput", "counted",
    "counted_words", "in_unit", "is_found", "limits_text", "place_of_sample", "read_typed", "warning_for",
]  # fmt: skip
