"""Plan of a whole treatment train: the right calculations in order, and what does not fit.

Facts go in as frozen dataclasses with Quantities (None: not known); `plan_train` runs the
registry's calculations in the order the water meets the parts, chooses the flow each of them
takes, and asks conflicts for what contradicts what. A calculation that lacks a figure says
which; nothing is guessed.

Which flow. Dose: the pump flow while a pump-switched feeder runs, the metered flow for metered
feed. Contact: the pump flow if the tank stands before the pressure tank, else the peak draw. Bed:
the peak draw. Backwash: the sustained pump flow at the lowest pressure.
"""

from __future__ import annotations

from equipment.engineering import registry
from equipment.engineering.beds.vessel import busiest_share
from equipment.engineering.errors import EngineeringError
from equipment.engineering.names import Side
from equipment.engineering.results import Answer
from equipment.engineering.units import Quantity, magnitude, quantity, size_in

from .conflicts import conflicts_of
from .facts import Facts, Feeder, Part, Step, TrainPlan

PERCENT_TIMER_CYCLE_S = 60.0
#: shortest washes of the trade, common practice, no source
WASH_MINUTES, RINSE_MINUTES = 10.0, 5.0


def plan_train(facts: Facts) -> TrainPlan:
    """Run demand, dose, setting, ripple, retention, beds, washes, softener and supply in order.

    facts     see the dataclasses above; every Quantity is checked by the calculation it goes to
    returns   TrainPlan: steps with answers (or what they lack), conflicts with their figures
    Errors: none of its own; a refusal of a calculation stands in its step.
    Source: the calculations' own; the order and the choice of flows are common practice.
    """
    plan = TrainPlan()
    if facts.feeder:
        _feeder(plan, facts, facts.feeder)
    for part in facts.parts:
        if part.kind == "retention":
            _retention(plan, facts, part)
        elif part.kind in ("filter", "neutralizer", "sediment") and part.diameter is not None:
            _bed(plan, facts, part)
        elif part.kind == "softener":
            _softener(plan, facts, part)
    if facts.feeder:
        _supply(plan, facts, facts.feeder)
    plan.conflicts = conflicts_of(facts, plan)
    return plan


def dose_flow(facts: Facts) -> Quantity | None:
    """Flow past the injector while the feeder runs."""
    feeder = facts.feeder
    if feeder and feeder.follows_flow:
        return facts.house.peak_flow
    return facts.source.pump_flow


def contact_flow(facts: Facts, part: Part) -> Quantity | None:
    return facts.house.peak_flow if part.side == Side.AFTER else facts.source.pump_flow


def _run(plan: TrainPlan, name: str, part: str, **values: object) -> Answer | None:
    given = {key: value for key, value in values.items() if value is not None}
    entry = registry.calculation(name)
    for key in entry.keys:
        if key.required and key.name not in given:
            plan.steps.append(Step(name, part, {}, None, f"needs the {key.help}"))
            return None
    try:
        answer = entry.run(given)
    except EngineeringError as refused:
        plan.steps.append(Step(name, part, {}, None, str(refused)))
        return None
    plan.steps.append(Step(name, part, given, answer))
    return answer


def _feeder(plan: TrainPlan, facts: Facts, feeder: Feeder) -> None:
    water = facts.water
    _run(
        plan,
        "oxidant-demand",
        "feeder",
        oxidant=feeder.oxidant or None,
        iron=water.iron,
        manganese=water.manganese,
        sulfide=water.sulfide,
        ammonia=water.ammonia if feeder.oxidant == "chlorine" else None,
        residual=facts.residual,
        ph=water.ph,
    )
    if feeder.is_timer:
        retention = next((part for part in facts.parts if part.kind == "retention"), None)
        setting = _setting(plan, facts, feeder, final=False)
        _run(
            plan,
            "dose-ripple",
            "feeder",
            cycle_length=feeder.cycle or quantity(PERCENT_TIMER_CYCLE_S, "s"),
            on_share=setting,
            flow=dose_flow(facts),
            mixing_volume=retention.volume if retention else quantity(0, "gal"),
        )


def _setting(plan: TrainPlan, facts: Facts, feeder: Feeder, *, final: bool) -> Quantity | None:
    demand = plan.step("oxidant-demand")
    answer = None
    try:
        answer = registry.calculation("feed-setting").run(
            {
                "flow": dose_flow(facts),
                "dose": getattr(demand, "dose", None),
                "strength": feeder.strength,
                "feeder_output": feeder.output,
            }
        )
    except EngineeringError:
        return None
    setting = getattr(answer, "setting", None)
    return setting if setting is not None and size_in(setting, "percent") <= 100 else None


def _supply(plan: TrainPlan, facts: Facts, feeder: Feeder) -> None:
    """The setting, with the water that washes and regenerations send past the injector."""
    demand = plan.step("oxidant-demand")
    _run(
        plan,
        "feed-setting",
        "feeder",
        flow=dose_flow(facts),
        dose=getattr(demand, "dose", None),
        strength=feeder.strength,
        feeder_output=feeder.output,
        flow_low=facts.source.flow_low,
        flow_high=facts.source.flow_high,
        tank_volume=feeder.tank_volume,
        daily_use=facts.house.daily_use,
        wash_use=wash_use(plan, facts),
        shelf_life=feeder.shelf_life,
        maximum_use_level=feeder.maximum_use_level,
    )


def wash_use(plan: TrainPlan, facts: Facts) -> Quantity | None:
    """Wash water a day, gallons: each bed's wash by its interval."""
    total = 0.0
    for part in facts.parts:
        water = plan.result("backwash", "water_all_vessels", "gal", part.key)
        if water is None:
            water = plan.result("backwash", "water", "gal", part.key)
        days = plan.result("filter-interval", "days", "day", part.key)
        if water and days:
            total += water / days
    return quantity(total, "gal") if total else None


def _retention(plan: TrainPlan, facts: Facts, part: Part) -> None:
    oxidant = facts.feeder.oxidant if facts.feeder else None
    _run(
        plan,
        "contact",
        part.key,
        volume=part.volume,
        baffling_factor=part.baffling_factor,
        flow=contact_flow(facts, part),
        oxidant=oxidant,
    )


def _bed(plan: TrainPlan, facts: Facts, part: Part) -> None:
    water, source, house = facts.water, facts.source, facts.house
    _run(
        plan,
        "bed",
        part.key,
        diameter=part.diameter,
        bed_depth=part.bed_depth if part.bed_depth is not None else None,
        bed_volume=part.bed_volume if part.bed_depth is None else None,
        flow=house.peak_flow,
        parallel_count=float(part.count) if part.count > 1 else None,
    )
    if part.wash_rate is not None:
        _run(
            plan,
            "backwash",
            part.key,
            diameter=part.diameter,
            rate=part.wash_rate,
            rate_high=part.wash_rate_high,
            bed_depth=part.bed_depth if part.freeboard is not None else None,
            freeboard=part.freeboard,
            temperature=water.temperature,
            rate_temperature=part.rate_temperature,
            pump_flow=source.pump_flow,
            minutes=quantity(WASH_MINUTES, "min"),
            rinse_minutes=quantity(RINSE_MINUTES, "min"),
            vessels=float(part.count),
            well_yield=source.well_yield,
            stored_volume=source.stored_volume,
            drawdown=source.drawdown,
        )
    _run(
        plan,
        "filter-interval",
        part.key,
        diameter=part.diameter,
        iron=water.iron,
        manganese=water.manganese,
        sulfide=water.sulfide,
        daily_use=_share(house.daily_use, part),
        loading_limit=part.loading_limit,
        maximum_days=part.interval_cap,
    )


def _share(daily_use: Quantity | None, part: Part) -> Quantity | None:
    """Water through the busiest of parallel vessels."""
    if daily_use is None or part.count == 1:
        return daily_use
    return quantity(size_in(daily_use, "gal") * busiest_share(part.count), "gal")


def _softener(plan: TrainPlan, facts: Facts, part: Part) -> None:
    people, daily = facts.house.people, facts.house.daily_use
    filtered = any(other.kind == "filter" for other in facts.parts[: facts.parts.index(part)])
    _run(
        plan,
        "softener",
        part.key,
        hardness=facts.water.hardness,
        iron=None if filtered else facts.water.iron,
        manganese=None if filtered else facts.water.manganese,
        people=people,
        use_per_person=_use_per_person(daily, people),
        resin_volume=part.bed_volume,
        salt_dose=part.salt_dose,
        peak_flow=facts.house.peak_flow,
    )


def _use_per_person(daily_use: Quantity | None, people: float | None) -> Quantity | None:
    """The day's water of the house by person, so that beds and softener count the same water."""
    if daily_use is None or not people:
        return None
    return quantity(magnitude("daily_use", daily_use, "gal") / people, "gpd")
