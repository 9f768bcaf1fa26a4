"""What a record rests on: plain frozen facts, from rows on the server, from JSON on a phone.

Nothing here asks, computes or judges. `to_json` and `from_json` lose nothing, so that a record
read on a phone is the record the server read. A field that is added has a default: a reader fills
it where it is missing, and passes over a field it does not know. `NUMBER` counts the shapes:
whoever renames or drops a field, gives it another type or meaning, or adds one that no reader may
pass over raises it, and facts of another number are refused.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from equipment.engineering.oxidant.pump_setting import PumpSetting

from .facts_beside import Beside
from .kinds import FEEDER_CHECK_WORDS, LOOK_WORDS, Look, notice_title

NUMBER = 4

#: a condition or a limit of a checklist, as the company's JSON says it
Rule = Mapping[str, Any]


@dataclass(frozen=True, kw_only=True)
class Line:
    """One thing asked, with its limits and what it opens or shuts."""

    block: str
    block_title: str
    key: str
    label: str
    kind: str
    hint: str = ""
    quantity_key: str = ""
    subject: str = ""
    place: str = ""
    is_pair: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    required: bool = False
    is_gate: bool = False
    passes: Rule = field(default_factory=dict)
    condition: Rule = field(default_factory=dict)
    hard_min: float | None = None
    hard_max: float | None = None
    warn_min: float | None = None
    warn_max: float | None = None
    expectation: str = ""
    caution: str = ""
    may_skip: bool = True
    #: a figure of the house on file stands where nobody typed a newer one
    from_file: bool = False


# --- what is fitted ---------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Product:
    """The oxidant as its container says it."""

    name: str
    oxidant: str
    label_strength_percent: float
    density_g_ml: float | None = None
    maximum_use_level_mg_l: float | None = None
    shelf_life_days: float | None = None
    strength_basis: str = "w/w"


@dataclass(frozen=True, kw_only=True)
class FeedPump:
    name: str
    nameplate_output_gpd: float
    #: smallest change it can be set to
    setting_step_percent: float = 1.0
    #: by which figures it is set, "" where it is not known
    head: str = ""
    cycle_s: float | None = None
    cycle_step_s: float = 1.0
    restart: str = ""
    strokes_per_min: float | None = None
    pulses_per_gal: float | None = None


@dataclass(frozen=True, kw_only=True)
class RetentionTank:
    name: str
    volume_gal: float
    baffling_factor: float


@dataclass(frozen=True, kw_only=True)
class Vessel:
    name: str
    diameter_in: float
    height_in: float


@dataclass(frozen=True, kw_only=True)
class Medium:
    name: str
    backwash_low_gpm_ft2: float
    rate_temperature_c: float
    interval_max_days: float
    loading_limit_grain_ft2: float | None = None
    is_carbon: bool = False
    is_manganese_oxide: bool = False
    backwash_high_gpm_ft2: float | None = None


@dataclass(frozen=True, kw_only=True)
class Resin:
    name: str
    interval_max_days: float


@dataclass(frozen=True, kw_only=True)
class Stage:
    """One fitted part of the system, in the order the water meets it."""

    pk: int
    position: int
    kind: str
    name: str
    parallel_count: int = 1
    media_volume_ft3: float | None = None
    bed_depth_in: float | None = None
    salt_dose_lb_ft3: float | None = None
    solution_tank_gal: float | None = None
    product: Product | None = None
    feed_pump: FeedPump | None = None
    retention_tank: RetentionTank | None = None
    vessel: Vessel | None = None
    medium: Medium | None = None
    resin: Resin | None = None
    tank: int = 0  # of tanks side by side, 0: the part as a whole
    #: days from its fitting to the record's begin, None where not known
    fitted_days: int | None = None

    def __str__(self) -> str:
        return self.name


@dataclass(frozen=True, kw_only=True)
class Train:
    """How the parts are joined to the well and the house."""

    name: str
    retention_side: str = ""
    plumbing_volume_gal: float | None = None


# --- what was said and done ---------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Answer:
    """One side of a line as it was typed, and what was asked about it."""

    line_key: str
    text: str
    read_at: datetime
    by: str
    by_id: int
    stage: int | None = None
    tank: int = 0  # of tanks side by side, 0: the part as a whole
    side: str = ""
    unit: str = ""
    dilution: float = 1.0
    version: int = 1
    warning: str = ""
    is_confirmed: bool = False
    skip_reason: str = ""


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step of the dial-back: set, wait, look, read."""

    number: int
    setting: PumpSetting
    set_at: datetime
    drawdown_ml_min: float | None = None
    tap_flow_gpm: float | None = None
    read_at: datetime | None = None
    turnovers: float | None = None
    look: str = ""
    residual_low_mg_l: float | None = None
    residual_high_mg_l: float | None = None
    iron_clear: bool | None = None
    odour_clear: bool | None = None
    #: permanganate: no colour left after the filter
    colour_gone: bool | None = None
    #: "" or how the dosing pump was found when it was checked after this reading
    feeder_check: str = ""
    skip_reason: str = ""
    is_final: bool = False
    #: "" or why the reading is kept and not used
    doubt: str = ""
    #: which strips read it
    strips: str = ""
    #: "" or why it was left so for a recheck
    left_because: str = ""
    #: "" or the rule it was set against: it happened, and is kept
    against: str = ""
    #: the act that made it, "" where it is not known
    made_by: str = ""

    @property
    def setting_percent(self) -> float:
        """The share of its full output that the pump feeds."""
        return self.setting.percent

    @property
    def look_words(self) -> str:
        return LOOK_WORDS[Look(self.look)] if self.look else ""

    @property
    def noted(self) -> str:
        """What was seen and done beside the residual."""
        colour = {True: "no colour after the filter", False: "colour after the filter"}
        said = [colour[self.colour_gone]] if self.colour_gone is not None else []
        if self.against:
            said.append(f"against the rule: {self.against}")
        if self.strips:
            said.append(self.strips)
        if self.doubt:
            said.append(f"reading not used: {self.doubt}")
        if self.left_because:
            said.append(f"left so for a recheck: {self.left_because}")
        if self.feeder_check:
            said.append(f"dosing pump checked: {FEEDER_CHECK_WORDS[self.feeder_check]}")
        return "; ".join(said)


@dataclass(frozen=True, kw_only=True)
class Timer:
    """A wait, begun and perhaps ended."""

    line_key: str
    started_at: datetime
    needed_minutes: float
    stopped_at: datetime | None = None


@dataclass(frozen=True, kw_only=True)
class Override:
    """A line that must pass, passed over by a named person."""

    line_key: str
    reason: str
    by: str


@dataclass(frozen=True, kw_only=True)
class Acknowledgement:
    """A stop read by a named person."""

    caution: str
    by: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class Notice:
    """Water of this house that must be left alone."""

    level: str
    reason: str
    is_held: bool = False  # by the treatment of this house
    cause: str = ""  # with the level it says what ends it

    @property
    def title(self) -> str:
        return notice_title(self.level, is_held=self.is_held)


# --- what is on file ----------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Reading:
    """The newest figure of its kind and place; `origin` says who, and when."""

    quantity: str
    place: str
    value: float
    origin: str
    stage: int | None = None


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What a part was last set to."""

    stage: int
    name: str
    value: float
    origin: str
    #: of a dosing pump: both figures
    pump: PumpSetting | None = None
    tank: int = 0


@dataclass(frozen=True, kw_only=True)
class Before:
    """One figure of the start-up that a recheck stands beside."""

    quantity: str
    place: str
    figure: str
    on: str
    stage: int | None = None
    tank: int = 0


@dataclass(frozen=True, kw_only=True)
class LastFill:
    """The solution tank as it was last left."""

    at: datetime
    on: str
    level_gal: float


@dataclass(frozen=True, kw_only=True)
class Earlier:
    """What a second visit is compared with."""

    figures: tuple[Before, ...] = ()
    last_fill: LastFill | None = None
    solution_per_day_gal: float | None = None


# --- all of it ----------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Record:
    """The record itself: of which house and job, begun and closed when."""

    pk: int
    uuid: str
    purpose: str
    title: str
    opened_at: datetime
    closed_at: datetime | None = None
    #: ticks of isolation and stops that were read before it are asked again
    visit_began_at: datetime | None = None
    well_in_pit: bool = False
    #: how the source was made, and the state of the house; "" where that is not on file
    source_kind: str = ""
    region: str = ""
    #: the number of the house, 0 where it is not known
    site: int = 0

    @property
    def is_closed(self) -> bool:
        return self.closed_at is not None


@dataclass(frozen=True, kw_only=True)
class Facts:
    """Everything a record is read from."""

    record: Record
    lines: tuple[Line, ...]
    company: Mapping[str, float]
    number: int = NUMBER
    train: Train | None = None
    stages: tuple[Stage, ...] = ()
    answers: tuple[Answer, ...] = ()
    steps: tuple[Step, ...] = ()
    timers: tuple[Timer, ...] = ()
    overrides: tuple[Override, ...] = ()
    acknowledgements: tuple[Acknowledgement, ...] = ()
    notices: tuple[Notice, ...] = ()
    readings: tuple[Reading, ...] = ()
    settings: tuple[Setting, ...] = ()
    earlier: Earlier | None = None
    beside: Beside = Beside()
