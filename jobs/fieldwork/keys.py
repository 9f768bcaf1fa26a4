"""Names that tie rooms together: lines and pages of the checklists, panels, and words of choices.

A name stands here if code asks for it. `fixtures/checklists.json` holds the lines themselves and
may have more of them; `manage.py check` compares the two.
"""

from __future__ import annotations

from enum import StrEnum

from .kinds import Look


class LineKey(StrEnum):
    """Lines of the checklists that code asks for."""

    CHLORINE_AFTER = "chlorine-after"
    CHLORINE_RETENTION = "chlorine-retention"
    CHLORINE_TAP = "chlorine-tap"
    FEEDER_UNPLUGGED = "feeder-unplugged"
    ISOLATED = "isolated"
    NO_START = "no-start"
    PEROXIDE_AFTER = "peroxide-after"
    PEROXIDE_RETENTION = "peroxide-retention"
    PINK = "pink"
    STOP_FIRST = "stop-first"
    STOP_SECOND = "stop-second"
    BACKWASH_FLOW = "backwash-flow"
    BATHROOMS = "bathrooms"
    BOX_DIAMETER = "box-diameter"
    BOX_LENGTH = "box-length"
    BOX_SHAPE = "box-shape"
    BOX_WIDTH = "box-width"
    BRINE_DRAIN = "brine-drain"
    BYPASS_LEFT = "bypass-left"
    CHLORINE_MIXED = "chlorine-mixed"
    CHLORINE_POURED = "chlorine-poured"
    DISINFECT_WHY = "disinfect-why"
    FLUSH_PLACE = "flush-place"
    KITS = "kits"
    SHUT_OFFS = "shut-offs"
    WARRANTY = "warranty"
    BYPASS_LIST = "bypass-list"
    CASING_2_DIAMETER = "casing-2-diameter"
    CASING_DEPTH = "casing-depth"
    CASING_DIAMETER = "casing-diameter"
    CASINGS = "casings"
    CHLORINE_BASIS = "chlorine-basis"
    CHLORINE_LEFT = "chlorine-left"
    CHLORINE_PRODUCT = "chlorine-product"
    CHLORINE_STRENGTH = "chlorine-strength"
    CLEAR_MINUTES = "clear-minutes"
    DRY_MASS = "dry-mass"
    MIX_WATER = "mix-water"
    RESIN_FLOW = "resin-flow"
    RINSE_MINUTES = "rinse-minutes"
    SALT_ADDED = "salt-added"
    SALT_SET = "salt-set"
    WASH_MINUTES = "wash-minutes"
    CONTACT = "contact"
    CUT_IN = "cut-in"
    CUT_OUT = "cut-out"
    DISINFECT_SCOPE = "disinfect-scope"
    DRAWDOWN = "drawdown"
    FEED_DRAWN = "feed-drawn"
    FEED_TIME = "feed-time"
    FLUSH_HIGH = "flush-high"
    FLUSH_HOT = "flush-hot"
    FLUSH_LOW = "flush-low"
    GLASS_TREATED = "glass-treated"
    HANDOVER_NAME = "handover-name"
    HEATER = "heater"
    HEATER_VOLUME = "heater-volume"
    HARDNESS_SET = "hardness-set"
    LABEL_STRENGTH = "label-strength"
    LEVEL_FOUND = "level-found"
    LOT = "lot"
    NEXT_REGEN = "next-regen"
    PEOPLE = "people"
    PRECHARGE = "precharge"
    PUMP_CYCLE = "pump-cycle"
    PUMP_FLOW = "pump-flow"
    PUMP_PULSES = "pump-pulses"
    PUMP_SETTING = "pump-setting"
    PUMP_SPEED = "pump-speed"
    PUMP_STROKE = "pump-stroke"
    RAW_AMMONIA = "raw-ammonia"
    RAW_HARDNESS = "raw-hardness"
    RAW_IRON = "raw-iron"
    RAW_MANGANESE = "raw-manganese"
    RAW_SULFIDE = "raw-sulfide"
    RAW_TEMPERATURE = "raw-temperature"
    RECHECK_OUTCOME = "recheck-outcome"
    REFILL = "refill"
    SANITISED = "sanitised"
    SCOPE = "scope"
    SOAKED = "soaked"
    SOLUTION_LEVEL = "solution-level"
    SOLUTION_STRENGTH = "solution-strength"
    STATIC_LEVEL = "static-level"
    STEPS = "steps"
    STORED_WATER = "stored-water"
    SWITCHING = "switching"
    TANK_AIR = "tank-air"
    TANK_CRACKED = "tank-cracked"
    TANK_OPEN = "tank-open"
    TANK_STEADY = "tank-steady"
    TANK_VOLUME = "tank-volume"
    TAP_FLOW = "tap-flow"
    TOTAL_DEPTH = "total-depth"
    USES_ASKED = "uses-asked"
    WASH_HOUR = "wash-hour"
    WATER_DEPTH = "water-depth"
    WASH_INTERVAL = "wash-interval"
    YIELD_TODAY = "yield-today"


class BlockKey(StrEnum):
    """Pages of the checklists that code asks for."""

    ARRIVAL = "arrival"
    BACKWASH = "backwash"
    BRINE = "brine"
    DIAL_BACK = "dial-back"
    DISINFECT = "disinfect"
    FILL = "fill"
    FLUSH = "flush"
    HOLD = "hold"
    HOUSE = "house"
    ISOLATE = "isolate"
    PRESSURE = "pressure"
    PROGRAM = "program"
    RAW_WATER = "raw-water"
    RECHECK_PROGRAM = "recheck-program"
    RECHECK_SETTING = "recheck-setting"
    RINSE = "rinse"
    STOP_TEST = "stop-test"
    WELL_HEAD = "well-head"


class PanelName(StrEnum):
    """Live panels, each under the name of the calculation it shows."""

    BACKWASH = "backwash"
    BED = "bed"
    BUCKET_FLOW = "bucket-flow"
    CONTACT = "contact"
    DOSE_FROM_SETTING = "dose-from-setting"
    DOSE_RIPPLE = "dose-ripple"
    DRY_MIX = "dry-mix"
    FEED_SETTING = "feed-setting"
    FEEDER_CALIBRATION = "feeder-calibration"
    FILTER_INTERVAL = "filter-interval"
    OPEN_WATER = "open-water"
    OXIDANT_DEMAND = "oxidant-demand"
    PEAK_DEMAND = "peak-demand"
    PIPE_VOLUME = "pipe-volume"
    PRESSURE_TANK = "pressure-tank"
    SHOCK_CHLORINATION = "shock-chlorination"
    SOFTENER = "softener"
    SOLUTION_STRENGTH = "solution-strength"
    TIMER_CYCLE = "timer-cycle"
    TURNOVER = "turnover"
    WASH_CYCLE = "wash-cycle"
    WELL_FLOW = "well-flow"
    WELL_VOLUME = "well-volume"


#: the calculation behind the steps of the dial-back; it is shown beside them, not in a panel
DIAL_IN = "dial-in"
#: lines that say who else uses this water begin so, and end with a kind of special use
USE_LINES = "use-"
#: ticks of isolation are of one visit: whoever comes next looks again
ASKED_EACH_VISIT = (LineKey.ISOLATED, LineKey.FEEDER_UNPLUGGED)
FLUSHING = (LineKey.FLUSH_HIGH, LineKey.FLUSH_LOW, LineKey.FLUSH_HOT)
#: lines that are not passed over while the dosing pump runs
NOT_WHILE_IT_RUNS = (
    *FLUSHING,
    LineKey.USES_ASKED,
    LineKey.STOP_FIRST,
    LineKey.STOP_SECOND,
    LineKey.NO_START,
    LineKey.PEROXIDE_AFTER,
    LineKey.CHLORINE_AFTER,
    LineKey.CHLORINE_TAP,
    LineKey.PINK,
    LineKey.BYPASS_LEFT,
)
#: words of choices that code asks for
DONE_HERE = "here"
#: parts that hold water with chlorine in it
IN_LINE = ("in_line", "weaker")
HEATER_TREATED = "treated"
UNCLEAR_GLASS = (Look.FEW, Look.MILKY)
NOT_SOAKED = "not_soaked"
#: what is started: with media of these days, or as others have left it
NEW_MEDIA, TAKEN_OVER = ("new", "media"), "taken_over"
ONE_CASING, BOX_KNOWN, BOX_ROUND, BOX_STRAIGHT = "one", "known", "round", "straight"
CHOICES_ASKED: dict[LineKey, tuple[str, ...]] = {
    LineKey.BYPASS_LIST: IN_LINE,
    LineKey.BOX_SHAPE: (BOX_KNOWN, BOX_ROUND, BOX_STRAIGHT),
    LineKey.CASINGS: (ONE_CASING,),
    LineKey.HEATER: (HEATER_TREATED,),
    LineKey.DISINFECT_SCOPE: (DONE_HERE,),
    LineKey.GLASS_TREATED: UNCLEAR_GLASS,
    LineKey.SOAKED: (NOT_SOAKED,),
    LineKey.SCOPE: (*NEW_MEDIA, TAKEN_OVER),
}

#: readings that are taken once the chlorine is being flushed out
AFTER_CONTACT = (LineKey.FLUSH_HIGH, LineKey.FLUSH_LOW, LineKey.FLUSH_HOT)
#: what makes a disinfection one: strong enough, for long enough
DISINFECTS = (LineKey.CHLORINE_MIXED, LineKey.CONTACT)
