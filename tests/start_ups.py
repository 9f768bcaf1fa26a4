"""Start-ups of invented houses: what a technician reads, and three ways to choose the next setting.

The model is ours and its figures are common practice, no source: a demand that differs from the
computed one, a pump and a solution that differ from their labels, strips a pad off, a feeder that
loses its prime. It ranks ways of dialing in; it says nothing of real houses. The same houses, with
the same luck, are given to the calculation, to bisection and to proportional control.
"""

import math
import random
from dataclasses import dataclass
from functools import partial

from equipment.engineering.oxidant.dial_in import dial_in
from equipment.engineering.oxidant.kits import KITS
from equipment.engineering.oxidant.readings import Reading
from equipment.engineering.units import quantity as q

OXIDANTS = ("peroxide", "chlorine", "permanganate")
WAYS_TO_READ = ("strip", "meter")
AIMS = {"chlorine": (0.5, 2.0), "permanganate": (0.0, 0.1)}
PEROXIDE_AIMS = {"sulfide": (5.0, 15.0), "iron": (2.0, 10.0)}
START = {"peroxide": 1.4, "chlorine": 1.0, "permanganate": 0.8}
#: demand in mg/L: median of the houses, standard deviation of its logarithm
DEMANDS = {"peroxide": (10, 0.5), "chlorine": (8, 0.55), "permanganate": (4, 0.4)}
MOST_READINGS = 12


class House:
    """One house that its pump can serve, with what is true of it."""

    def __init__(self, oxidant, luck):
        self.oxidant = oxidant
        while True:
            self._draw(luck)
            largest = self.demand_first * max(1.0, 1 + self.drift)
            if 4 < (largest + self.middle) / self.slope < 90:
                break
        self.seed = luck.getrandbits(40)

    def _draw(self, luck):
        self.aim = (
            AIMS.get(self.oxidant) or PEROXIDE_AIMS["sulfide" if luck.random() < 0.7 else "iron"]
        )
        self.middle = 0.15 if self.oxidant == "permanganate" else sum(self.aim) / 2
        median, deviation = DEMANDS[self.oxidant]
        computed = median * math.exp(luck.gauss(0, deviation))
        self.computed = luck.uniform(15, 55)
        self.calibration = computed / self.computed
        pump = max(0.5, luck.gauss(1, luck.uniform(0.06, 0.17)))
        self.slope = self.calibration * pump * luck.uniform(0.85, 1)
        self.demand_first = computed * math.exp(luck.gauss(-0.1, 0.45))
        self.drift = luck.gauss(0, 0.12)
        self.offset = luck.gauss(0, 1.5)
        self.clears_at = luck.gauss(0.92, 0.04)

    def begin(self):
        self.luck, self.count, self.lost = random.Random(self.seed), 0, False

    # --- what is true ---------------------------------------------------------------------------

    @property
    def demand(self):
        return self.demand_first * (1 + self.drift * min(1, self.count / 6))

    def fed(self, setting):
        return self.slope * max(0.0, setting + self.offset)

    def excess(self, setting):
        return self.fed(setting) - self.demand

    def is_short(self, setting):
        """Below the demand; permanganate by more than a twelfth of it."""
        return self.excess(setting) < (-0.08 * self.demand if self.by_colour else 0)

    def is_under(self, setting):
        if self.by_colour:
            return self.is_short(setting)
        return self.excess(setting) < 0.85 * self.aim[0]

    def is_over(self, setting):
        limit = 0.12 * self.demand + 0.6 if self.by_colour else 1.15 * self.aim[1]
        return self.excess(setting) > limit

    def is_good(self, setting):
        excess, demand = self.excess(setting), self.demand
        if self.by_colour:
            return -0.10 * demand <= excess <= 0.10 * demand + 0.5
        clear = self.fed(setting) >= self.clears_at * demand
        return clear and 0.6 * self.aim[0] <= excess <= 1.4 * self.aim[1]

    @property
    def by_colour(self):
        return self.oxidant == "permanganate"

    # --- what is read ---------------------------------------------------------------------------

    def read(self, setting, way):
        """A reading after three turnovers, with feed, demand, sample, kit and tap as they come."""
        luck = self.luck
        chance = [luck.random() for _ in range(6)]
        noise = [luck.gauss(0, 1) for _ in range(3)]
        self.count += 1
        self.lost = self.lost or chance[0] < 0.03
        fed = 0.0 if self.lost else self.fed(setting) * (1 + 0.05 * noise[0])
        demand = self.demand * (1 + 0.06 * noise[1])
        residual = max(0.0, fed - demand)
        if self.oxidant == "peroxide" and chance[1] < 0.08:
            residual *= 0.6 + 0.35 * chance[2]
        clear = (fed >= self.clears_at * demand) != (chance[3] < 0.02)
        kit = KITS[self.oxidant]
        if way == "meter":
            value = residual * (1 + 0.05 * max(-2.0, min(2.0, noise[2])))
            value = 0.0 if value < kit.least else min(value, 900)
            return Reading(setting, value, value, tap=clear)
        at = max(i for i, (low, _) in enumerate(kit.bands) if residual >= low)
        if chance[4] < 0.10:
            at = min(max(at + (1 if chance[5] < 0.5 else -1), 0), len(kit.bands) - 1)
        return Reading(setting, *kit.bands[at], tap=clear)


def houses(oxidant, count, seed):
    luck = random.Random(f"{seed} {oxidant}")
    return [House(oxidant, luck) for _ in range(count)]


# --- ways to choose the next setting --------------------------------------------------------------


class ByCalculation:
    """The dial-in, asked as the page asks it."""

    def __init__(self, house):
        self.readings = []
        self.ask = partial(
            dial_in,
            oxidant=house.oxidant,
            flow=q(10, "gpm"),
            strength=q(144 * house.calibration, "g/L"),
            feeder_output=q(10, "gpd"),
            target_low=q(house.aim[0], "mg/L"),
            target_high=q(house.aim[1], "mg/L"),
            computed_setting=q(house.computed, "percent"),
            colour_gone=True if house.by_colour else None,
        )

    def start(self):
        return self.ask().next_setting.magnitude

    def after(self, reading):
        self.readings.append(reading)
        answer = self.ask(reading=self.readings)
        return answer.act, answer.next_setting.magnitude

    def checked(self, *, mended):
        last = self.readings[-1]
        self.readings[-1] = Reading(
            last.setting, last.low, last.high, tap=last.tap, check="mended" if mended else "sound"
        )
        if mended:
            return "hold", last.setting
        answer = self.ask(reading=self.readings)
        return answer.act, answer.next_setting.magnitude


class Rival:
    """Stops where the band's middle lies in the aim and the tap is clear; a second zero in a row
    with a tap that is not clear has the feeder checked. For permanganate it looks for the faint
    colour, the one band that shows that the demand is met and not far passed."""

    def __init__(self, house):
        self.house = house
        self.before = None
        self.low, self.high = 0.0, None
        self.aim = (0.05, 0.5) if house.by_colour else house.aim
        self.middle = house.middle

    def start(self):
        return max(1.0, math.floor(min(100, START[self.house.oxidant] * self.house.computed)))

    def after(self, reading):
        before, self.before = self.before, reading
        again = reading.zero and before is not None and before.zero
        if again and not (reading.tap or before.tap) and before.setting <= reading.setting:
            return "check", reading.setting
        middle = reading.middle
        low, high = self.aim
        if reading.tap and low <= middle <= high and reading.low < high and reading.high > low:
            return "stop", reading.setting
        short = (reading.tap is False and middle <= high) or middle < low
        chosen = math.floor(self.choose(reading, short=short) + 1e-9)
        if chosen == reading.setting or (chosen < reading.setting) == short:
            chosen = reading.setting + (1 if short else -1)
        return "set", float(max(1, min(100, chosen)))

    def checked(self, *, mended):
        self.before, self.low, self.high = None, 0.0, None
        return "hold", None


class Bisection(Rival):
    def choose(self, reading, *, short):
        at = reading.setting
        if short:
            self.low = at
            self.high = self.high if self.high and self.high > at else None
        else:
            self.high = at
            self.low = self.low if self.low < at else 0.0
        if self.high is None:
            return 1.5 * at
        return (self.low + self.high) / 2 if self.low else 0.5 * at


class Proportional(Rival):
    def choose(self, reading, *, short):
        at = reading.setting
        step = (self.middle - reading.middle) / self.house.calibration
        if reading.above_top:
            step = min(step, -0.25 * at)
        if short and reading.zero:
            step = max(step, 0.25 * at)
        return at + max(-0.5 * at, min(0.5 * at, step))


WAYS = {"dial-in": ByCalculation, "bisection": Bisection, "proportional": Proportional}


# --- following one ------------------------------------------------------------------------------


@dataclass
class Followed:
    """How one start-up went."""

    stopped: bool = False
    good: bool = False
    short: bool = False
    harmful: bool = False
    #: a raise from a band at or over the aim
    forbidden: bool = False
    readings: int = 0
    settings: int = 1


def follow(house, way, kit):
    """Set, wait, read, ask, until it stays or twelve readings are used."""
    house.begin()
    chooser = way(house)
    at, tried, went = chooser.start(), set(), Followed()
    while went.readings < MOST_READINGS:
        tried.add(at)
        went.readings, went.settings = went.readings + 1, len(tried)
        reading = house.read(at, kit)
        act, chosen = chooser.after(reading)
        if act == "check":
            lost, house.lost = house.lost, False
            act, chosen = chooser.checked(mended=lost)
        if act == "stop":
            went.stopped, went.good, went.short = True, house.is_good(at), house.is_short(at)
            return went
        if act == "limit":
            return went
        if act == "set":
            top = 0.5 if house.by_colour else house.aim[1]
            went.forbidden |= chosen > at and reading.low >= top
            went.harmful |= not house.lost and _harms(house, at, chosen)
            at = chosen
    return went


def _harms(house, at, chosen):
    if chosen > at:
        return house.is_over(at)
    return chosen < at and (house.is_under(at) or house.is_short(chosen))


@dataclass(frozen=True)
class Fared:
    """How many start-ups went how, in percent of the houses; readings of those that stopped."""

    stops: float
    good: float
    short: float
    harmful: float
    forbidden: int
    median: int
    nine_tenths: int
    within_four: float


def fare(followed):
    count = len(followed)
    used = sorted(went.readings for went in followed if went.stopped)

    def percent(name):
        return 100 * sum(getattr(went, name) for went in followed) / count

    return Fared(
        stops=percent("stopped"),
        good=percent("good"),
        short=percent("short"),
        harmful=percent("harmful"),
        forbidden=sum(went.forbidden for went in followed),
        median=used[len(used) // 2],
        nine_tenths=used[int(0.9 * len(used))],
        within_four=100 * sum(w.stopped and w.settings <= 4 for w in followed) / count,
    )
