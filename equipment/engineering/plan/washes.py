"""What does not fit about the washes of a train: flow, water, room above the bed, hours.

Common practice, no source; the rules stand in the list of conflicts.
"""

from __future__ import annotations

from collections.abc import Iterator

from equipment.engineering.beds.supply import PUMP_SHARE, UNSETTLED

from .facts import Conflict, Facts, Part, Rule, TrainPlan, said, size_of


def _wash(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    for part in facts.parts:
        answer = plan.step("backwash", part.key)
        if answer is None:
            continue
        needed = plan.result("backwash", "required_flow_low", "gpm", part.key)
        pump = size_of(facts.source.pump_flow, "gpm")
        water = plan.result("backwash", "water", "gal", part.key)
        limit = str(getattr(answer, "limited_by", None) or "")
        if limit == UNSETTLED:
            yield Conflict(
                "wash-flow-by-temperature",
                f"Whether the well can lift the bed of {part.label} hangs on the temperature of "
                "the water, which is not known.",
                f"up to {needed:.3g} gpm needed, the well pump gives {pump:.3g} gpm",
                remedy="Read the temperature of the raw water.",
            )
        elif "flow" in limit:
            yield Conflict(
                "wash-flow",
                f"The well cannot lift the bed of {part.label}.",
                f"{needed:.3g} gpm needed, the well pump gives {pump:.3g} gpm and "
                f"{PUMP_SHARE:g} of it "
                f"counts{_likely(facts)}",
                is_red=True,
            )
        if "water" in limit:
            yield Conflict(
                "wash-water",
                f"The well has not the water for a backwash of {part.label}.",
                f"{water:.3g} gal a backwash, {said(facts.source.well_yield, 'gpm', 'yield')}",
                is_red=True,
            )


def _likely(facts: Facts) -> str:
    return "" if facts.water.temperature is not None else "; temperature not known, 5 to 20 degC"


def _pump_not_known(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    washed = [part for part in facts.parts if plan.step("backwash", part.key)]
    if washed and facts.source.pump_flow is None:
        needed = plan.result("backwash", "required_flow_low", "gpm", washed[0].key)
        yield Conflict(
            "pump-not-known",
            f"Whether the well can lift the bed of {washed[0].label} is not known.",
            f"{needed:.3g} gpm needed, flow of the well pump not on file",
            remedy="Measure it from the refill of the pressure tank.",
        )


def _room(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    pump = size_of(facts.source.pump_flow, "gpm")
    for part in facts.parts:
        least = plan.result("backwash", "required_flow_low", "gpm", part.key)
        most = plan.result("backwash", "most_flow", "gpm", part.key)
        if least is None or most is None:
            continue
        if most < least:
            yield Conflict(
                "wash-room",
                f"{part.label} has too little room above its bed: a backwash that lifts it "
                "carries it "
                "out.",
                f"{least:.3g} gpm lift it, {most:.3g} gpm is the most",
                is_red=True,
                remedy="Less medium, or a taller vessel.",
            )
        elif pump is not None and pump > most:
            yield Conflict(
                "wash-too-strong",
                f"The well pump can carry the bed of {part.label} out.",
                f"at most {most:.3g} gpm, the well pump gives {pump:.3g} gpm",
                remedy="A flow control belongs in the drain line.",
            )


def _same_hour(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    seen: dict[float, Part] = {}
    for part in facts.parts:
        if part.wash_hour is None:
            continue
        other = seen.get(part.wash_hour)
        if other:
            yield Conflict(
                "same-hour",
                f"{other.label} and {part.label} backwash at the same hour.",
                f"{part.wash_hour:g}:00",
                is_red=True,
            )
        seen[part.wash_hour] = part


WASH_RULES: tuple[Rule, ...] = (_wash, _pump_not_known, _room, _same_hour)
