"""What contradicts what in a train, each with the figure that shows it.

The list is common practice unless a line names more; the screen defers to the product's label,
local code and licensed practice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from equipment.engineering.units import size_in

from .facts import Conflict, Facts, Part, TrainPlan

PUMP_SWITCHED = ("switch_load", "current_relay", "drive_contact")
#: iron that calcite or resin should not meet, mg/L
SOFTENER_IRON = 0.3

Rule = Callable[[Facts, TrainPlan], Iterator[Conflict]]


def conflicts_of(facts: Facts, plan: TrainPlan) -> list[Conflict]:
    """All conflicts of a planned train, in the order of the rules below."""
    return [conflict for rule in RULES for conflict in rule(facts, plan)]


def _in(value: Any, unit: str) -> float | None:
    return None if value is None else size_in(value, unit)


def _always_live(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    if facts.feeder and facts.feeder.switching == "always_live":
        yield Conflict(
            "always-live",
            "The feeder runs when no water flows: raw solution reaches the tap.",
            "switched: always live",
            is_red=True,
        )


def _injection_side(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    feeder = facts.feeder
    if feeder and feeder.switching in PUMP_SWITCHED and feeder.injection == "after":
        yield Conflict(
            "injection-after-tank",
            "The feeder follows the pump but injects after the pressure tank: water drawn from the "
            "tank gets nothing, the rest gets more than its share.",
            f"{_text(facts.source.drawdown, 'gal', 'drawdown')} undosed",
            is_red=True,
        )
    if feeder and feeder.switching in ("flow_switch", "metered") and feeder.injection == "before":
        yield Conflict(
            "injection-before-tank",
            "The feeder follows the house's flow but injects before the pressure tank.",
            f"switched: {feeder.switching.replace('_', ' ')}",
        )


def _variable_speed(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    feeder = facts.feeder
    if feeder and facts.source.constant_pressure and feeder.switching != "metered":
        low, mid, high = 1.5, _in(facts.source.pump_flow, "gpm"), 12.0
        dose = plan.result("oxidant-demand", "dose", "mg/L")
        shown = ""
        if mid and dose:
            shown = (
                f"{dose:.3g} mg/L at {mid:.3g} gpm is {dose * mid / low:.3g} at {low:g} gpm "
                f"and {dose * mid / high:.3g} at {high:g} gpm"
            )
        yield Conflict(
            "fixed-feed-variable-speed",
            "Fixed feed on a variable-speed pump: the dose moves with every tap. Only metered "
            "feed fits.",
            shown or "flow not constant",
            is_red=True,
        )


def _feeder_pressure(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    feeder = facts.feeder
    rated, cut_out = (
        _in(feeder.rated_pressure if feeder else None, "psi"),
        _in(facts.source.cut_out, "psi"),
    )
    if rated is not None and cut_out is not None and rated < cut_out:
        yield Conflict(
            "feeder-pressure",
            "The feeder is rated below the cut-out pressure: its tube bursts and sprays solution.",
            f"rated {rated:g} psi, cut-out {cut_out:g} psi",
            is_red=True,
        )


def _peroxide_manganese(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    if not facts.feeder or facts.feeder.oxidant != "peroxide":
        return
    for part in facts.parts:
        if part.is_manganese_oxide:
            yield Conflict(
                "peroxide-before-manganese-oxide",
                f"Peroxide reaches {part.label}: manganese dioxide breaks it down violently.",
                f"peroxide, {part.label}",
                is_red=True,
            )
    manganese = _in(facts.water.manganese, "mg/L")
    other = any(part.kind == "softener" or part.is_manganese_oxide for part in facts.parts)
    if manganese is not None and manganese > 0.05 and not other:
        yield Conflict(
            "peroxide-for-manganese",
            "Peroxide does not take out manganese by itself.",
            f"manganese {manganese:.3g} mg/L, 0.05 is the secondary limit",
        )


def _no_carbon(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    carbon = any(part.is_carbon for part in facts.parts)
    if facts.feeder and facts.feeder.oxidant == "peroxide" and not carbon:
        yield Conflict(
            "no-carbon-after-peroxide",
            "No carbon behind peroxide: what is left goes to the kitchen, and sulfide is not "
            "finished.",
            f"residual aimed at {_text(facts.residual, 'mg/L', 'after retention')}",
            is_red=True,
        )


def _softener_after_oxidant(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    if not facts.feeder:
        return
    quenched = False
    for part in facts.parts:
        quenched = quenched or part.is_carbon
        if part.kind == "softener" and not quenched:
            yield Conflict(
                "softener-after-oxidant",
                f"{part.label} meets the oxidant directly: resin is eaten. Carbon belongs between.",
                f"residual aimed at {_text(facts.residual, 'mg/L', 'after retention')}",
                is_red=True,
            )
        if part.kind == "uv" and not quenched:
            yield Conflict(
                "uv-before-quench",
                f"{part.label} stands before the oxidant is taken out.",
                part.label,
            )


def _iron_on_softener(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    iron = _in(facts.water.iron, "mg/L")
    if iron is None:
        return
    for index, part in enumerate(facts.parts):
        limit = _in(part.iron_limit, "mg/L") or SOFTENER_IRON
        before = any(other.kind == "filter" for other in facts.parts[:index])
        if part.kind in ("softener", "neutralizer") and not before and iron > limit:
            yield Conflict(
                "iron-on-softener",
                f"{part.label} sees more iron than it should.",
                f"iron {iron:.3g} mg/L, limit {limit:.3g} mg/L",
            )


def _retention(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    needed = _in(facts.retention_minimum, "min")
    for part in facts.parts:
        detention = plan.result("contact", "detention", "min", part.key)
        if part.kind == "retention" and needed and detention is not None and detention < needed:
            yield Conflict(
                "retention-short",
                f"{part.label} holds the water for too short a time.",
                f"{detention:.3g} min, {needed:.3g} min wanted",
            )


def _wash(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    for part in facts.parts:
        answer = plan.step("backwash", part.key)
        if answer is None or getattr(answer, "adequate", None) is not False:
            continue
        needed = plan.result("backwash", "required_flow_low", "gpm", part.key)
        pump = _in(facts.source.pump_flow, "gpm")
        water = plan.result("backwash", "water", "gal", part.key)
        limit = str(getattr(answer, "limited_by", ""))
        if "flow" in limit:
            yield Conflict(
                "wash-flow",
                f"The well cannot lift the bed of {part.label}.",
                f"{needed:.3g} gpm needed, the pump gives {pump:.3g} gpm and 0.9 of it counts",
                is_red=True,
            )
        if "water" in limit:
            yield Conflict(
                "wash-water",
                f"The well has not the water for a wash of {part.label}.",
                f"{water:.3g} gal a wash, {_text(facts.source.well_yield, 'gpm', 'yield')}",
                is_red=True,
            )


def _contact_bed(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    for part in facts.parts:
        answer = plan.step("bed", part.key)
        for warning in answer.warnings if answer else ():
            yield Conflict("bed-load", f"{part.label}: {warning}", _ebct(plan, part))


def _ebct(plan: TrainPlan, part: Part) -> str:
    minutes = plan.result("bed", "ebct", "min", part.key)
    return f"contact {minutes:.3g} min" if minutes is not None else "contact not known"


def _same_hour(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    seen: dict[float, Part] = {}
    for part in facts.parts:
        if part.wash_hour is None:
            continue
        other = seen.get(part.wash_hour)
        if other:
            yield Conflict(
                "same-hour",
                f"{other.label} and {part.label} wash at the same hour.",
                f"{part.wash_hour:g}:00",
                is_red=True,
            )
        seen[part.wash_hour] = part


def _setting(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    percent = plan.result("feed-setting", "setting", "percent")
    if percent is None:
        return
    suggested = plan.result("feed-setting", "suggested_strength", "g/L")
    hint = f"; {suggested:.3g} g/L would fit" if suggested else ""
    if percent > 90:
        yield Conflict(
            "setting-high",
            "The feeder is too small or the solution too weak.",
            f"{percent:.3g} percent{hint}",
            is_red=percent > 100,
        )
    elif percent < 10:
        yield Conflict(
            "setting-low",
            "The solution is too strong for this feeder: dilute it.",
            f"{percent:.3g} percent{hint}",
        )


def _text(value: Any, unit: str, what: str) -> str:
    number = _in(value, unit)
    return f"{what} not known" if number is None else f"{number:.3g} {unit} {what}"


RULES: tuple[Rule, ...] = (
    _always_live,
    _injection_side,
    _variable_speed,
    _feeder_pressure,
    _peroxide_manganese,
    _no_carbon,
    _softener_after_oxidant,
    _iron_on_softener,
    _retention,
    _wash,
    _contact_bed,
    _same_hour,
    _setting,
)
