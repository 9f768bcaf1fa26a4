"""What contradicts what in a treatment train, each with the figure that shows it and what to do.

One rule, one severity and one text for each; forms, the page of the plan and what is kept of it
ask here. Red is what can hurt somebody or break something. The list is common practice, no source,
unless a line names one; the screen defers to the product's label, local code and licensed practice.
"""

from __future__ import annotations

from collections.abc import Iterator

from equipment.engineering.beds.softening import IRON_LIMIT
from equipment.engineering.names import Side, Switching
from equipment.engineering.oxidant.feeding import HIGHEST_SETTING, LOWEST_SETTING
from equipment.engineering.water.standards import CHLORINE_MG_L, MANGANESE_MG_L

from .facts import Conflict, Facts, Part, Rule, TrainPlan, said, size_of
from .washes import WASH_RULES

#: flows between which the swing of a fixed feed is shown, gpm
SWING_GPM = (1.5, 12.0)
LICENCE = "Electric work is done by who holds the licence local code asks for."


def conflicts_of(facts: Facts, plan: TrainPlan) -> list[Conflict]:
    """All conflicts of a planned train, in the order of the rules below."""
    return [conflict for rule in RULES for conflict in rule(facts, plan)]


def feeder_conflicts(facts: Facts) -> list[Conflict]:
    """What the facts alone say about the dosing pump, its switching and its place; red first."""
    found = [conflict for rule in FEEDER_RULES for conflict in rule(facts, TrainPlan())]
    return sorted(found, key=lambda conflict: not conflict.is_red)


def _switched(switching: str) -> str:
    return f"switched: {switching.replace('_', ' ')}"


# --- the dosing pump, what switches it and where it injects ---------------------------------------


def _always_live(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    if facts.feeder and facts.feeder.switching == Switching.ALWAYS_LIVE:
        yield Conflict(
            "always-live",
            "The dosing pump is always live: it feeds when no water flows, and raw solution "
            "reaches the tap.",
            _switched(facts.feeder.switching),
            is_red=True,
            remedy="The first glass burns the mouth. Leave it unplugged until it is switched by "
            "the well pump or by flow.",
        )


def _injection_side(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    feeder = facts.feeder
    if feeder and feeder.follows_pump and feeder.injection == Side.AFTER:
        yield Conflict(
            "injection-after-tank",
            "The dosing pump follows the well pump but injects after the pressure tank: water "
            "drawn from the tank gets nothing, and the refill gets too much.",
            f"{said(facts.source.drawdown, 'gal', 'drawdown')} undosed",
            is_red=True,
            remedy="Inject between well and pressure tank, or switch by flow or meter.",
        )
    if feeder and feeder.follows_flow and feeder.injection == Side.BEFORE:
        yield Conflict(
            "injection-before-tank",
            "The dosing pump follows the flow of the house but injects before the pressure tank: "
            "the tank fills after the tap is shut, so the flow it sees is not the flow it doses.",
            _switched(feeder.switching),
            remedy="Inject after the pressure tank.",
        )


def _drive_leads(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    feeder = facts.feeder
    if feeder and facts.source.constant_pressure and feeder.switching == Switching.SWITCH_LOAD:
        yield Conflict(
            "fed-from-drive-leads",
            "The dosing pump is fed from the leads of a variable-speed drive: the motor leads of "
            "a drive must never power it.",
            _switched(feeder.switching),
            is_red=True,
            remedy="Use the run contact of the drive only to switch, and metered pulses to set "
            f"the dose. {LICENCE}",
        )


def _variable_speed(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    feeder = facts.feeder
    if feeder is None or not facts.source.constant_pressure:
        return
    if not feeder.switching:
        yield Conflict(
            "switching-not-known",
            "The well pump has a variable speed, and what switches the dosing pump is not on file.",
            "switching not known",
            remedy="Only metered pulses hold the dose there.",
        )
    elif feeder.switching != Switching.METERED:
        yield Conflict(
            "fixed-feed-variable-speed",
            "Fixed feed on a variable-speed well pump: the flow changes and the feed does not, "
            "so the "
            "dose moves with every tap.",
            _swing(facts, plan) or "flow not constant",
            is_red=True,
            remedy="Only a dosing pump that follows metered pulses holds it.",
        )


def _swing(facts: Facts, plan: TrainPlan) -> str:
    """The dose at a small and at a large flow."""
    (low, high), mid = SWING_GPM, size_of(facts.source.pump_flow, "gpm")
    dose = plan.result("oxidant-demand", "dose", "mg/L")
    if not mid or not dose:
        return ""
    return (
        f"{dose:.3g} mg/L at {mid:.3g} gpm is {dose * mid / low:.3g} at {low:g} gpm "
        f"and {dose * mid / high:.3g} at {high:g} gpm"
    )


def _feeder_pressure(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    feeder = facts.feeder
    rated, cut_out = (
        size_of(feeder.rated_pressure if feeder else None, "psi"),
        size_of(facts.source.cut_out, "psi"),
    )
    if rated is not None and cut_out is not None and rated < cut_out:
        yield Conflict(
            "feeder-pressure",
            "The dosing pump is rated below the cut-out pressure: its tube bursts and sprays "
            "solution.",
            f"rated {rated:g} psi, cut-out {cut_out:g} psi",
            is_red=True,
            remedy="Fit one rated above the relief setting.",
        )


def _voltage(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    feeder = facts.feeder
    if not feeder or not feeder.circuit_voltage or not feeder.voltage:
        return
    if feeder.circuit_voltage != feeder.voltage:
        yield Conflict(
            "voltage",
            "The voltages of circuit and dosing pump do not match.",
            f"circuit {feeder.circuit_voltage} V, dosing pump {feeder.voltage} V",
            is_red=True,
            remedy=LICENCE,
        )


def _peroxide_on_manganese_oxide(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    if not facts.feeder or facts.feeder.oxidant != "peroxide":
        return
    for part in facts.parts:
        if part.is_manganese_oxide and part.behind_feeder:
            yield Conflict(
                "peroxide-before-manganese-oxide",
                f"Peroxide reaches {part.label}: manganese dioxide breaks it down violently.",
                f"peroxide, {part.label}",
                is_red=True,
                remedy="Use another oxidant or another bed.",
            )


# --- water and parts ------------------------------------------------------------------------------


def _peroxide_for_manganese(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    manganese = size_of(facts.water.manganese, "mg/L")
    if not facts.feeder or facts.feeder.oxidant != "peroxide" or manganese is None:
        return
    other = any(part.kind == "softener" or part.is_manganese_oxide for part in facts.parts)
    if manganese > MANGANESE_MG_L and not other:
        yield Conflict(
            "peroxide-for-manganese",
            "Peroxide does not take out manganese by itself.",
            f"manganese {manganese:.3g} mg/L, {MANGANESE_MG_L:g} is the secondary limit",
        )


def _no_carbon(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    carbon = any(part.is_carbon and part.behind_feeder for part in facts.parts)
    if facts.feeder and facts.feeder.oxidant == "peroxide" and not carbon:
        yield Conflict(
            "no-carbon-after-peroxide",
            "No carbon behind peroxide: what is left goes to the kitchen, and sulfide is not "
            "finished.",
            f"residual aimed at {said(facts.residual, 'mg/L', 'after the contact tank')}",
            is_red=True,
        )


def _chlorine_to_the_tap(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    """40 CFR 141.65: at most 4 mg/L of chlorine for drinking (SEEN)."""
    if not facts.feeder or facts.feeder.oxidant != "chlorine":
        return
    if any(part.is_carbon and part.behind_feeder for part in facts.parts):
        return
    dose = plan.result("oxidant-demand", "dose", "mg/L")
    if dose is None:
        yield Conflict(
            "chlorine-dose-not-known",
            "Chlorine goes to the tap without carbon, and its dose is not known.",
            f"at most {CHLORINE_MG_L:g} mg/L may be drunk",
            remedy="Read iron, manganese, sulfide and ammonia of the raw water.",
        )
    elif dose > CHLORINE_MG_L:
        yield Conflict(
            "chlorine-without-carbon",
            "No carbon behind a high dose of chlorine: when the water takes up less than planned, "
            "the rest goes to the kitchen.",
            f"dose {dose:.3g} mg/L, at most {CHLORINE_MG_L:g} mg/L may be drunk",
            is_red=True,
            remedy="Carbon belongs behind the contact tank.",
        )


def _permanganate_without_filter(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    if not facts.feeder or facts.feeder.oxidant != "permanganate":
        return
    if not any(part.kind == "filter" and part.behind_feeder for part in facts.parts):
        yield Conflict(
            "permanganate-without-filter",
            "No filter behind permanganate: brown floc and pink water go to the house and stain.",
            "permanganate, no filter",
            is_red=True,
            remedy="A filter that holds it belongs behind the contact tank.",
        )


def _above_use_level(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    level = size_of(facts.feeder.maximum_use_level if facts.feeder else None, "mg/L")
    dose = plan.result("oxidant-demand", "dose", "mg/L")
    if level is not None and dose is not None and dose > level:
        yield Conflict(
            "above-maximum-use-level",
            "This water asks for more than the product may be fed at.",
            f"dose {dose:.3g} mg/L, the product's maximum use level is {level:.3g} mg/L",
            is_red=True,
            remedy="Another product or another method; take something out ahead of it.",
        )


def _softener_after_oxidant(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    if not facts.feeder:
        return
    quenched = False
    for part in facts.parts:
        if not part.behind_feeder:
            continue
        quenched = quenched or part.is_carbon
        if part.kind == "softener" and not quenched:
            yield Conflict(
                "softener-after-oxidant",
                f"{part.label} meets the oxidant directly: resin is eaten. Carbon belongs between.",
                f"residual aimed at {said(facts.residual, 'mg/L', 'after the contact tank')}",
                is_red=True,
            )
        if part.kind == "uv" and not quenched:
            yield Conflict(
                "uv-before-quench",
                f"{part.label} stands before the oxidant is taken out.",
                part.label,
            )


def _iron_on_softener(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    iron = size_of(facts.water.iron, "mg/L")
    if iron is None:
        return
    for index, part in enumerate(facts.parts):
        limit = size_of(part.iron_limit, "mg/L") or IRON_LIMIT
        before = any(other.kind == "filter" for other in facts.parts[:index])
        if part.kind in ("softener", "neutralizer") and not before and iron > limit:
            yield Conflict(
                "iron-on-softener",
                f"{part.label} sees more iron than it should.",
                f"iron {iron:.3g} mg/L, limit {limit:.3g} mg/L",
            )


def _retention(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    needed = size_of(facts.retention_minimum, "min")
    for part in facts.parts:
        detention = plan.result("contact", "detention", "min", part.key)
        if part.kind == "retention" and needed and detention is not None and detention < needed:
            yield Conflict(
                "retention-short",
                f"{part.label} holds the water for too short a time.",
                f"{detention:.3g} min, {needed:.3g} min wanted",
            )


def _contact_bed(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    for part in facts.parts:
        answer = plan.step("bed", part.key)
        for warning in answer.warnings if answer else ():
            yield Conflict("bed-load", f"{part.label}: {warning}", _ebct(plan, part))


def _ebct(plan: TrainPlan, part: Part) -> str:
    minutes = plan.result("bed", "ebct", "min", part.key)
    return f"contact {minutes:.3g} min" if minutes is not None else "contact not known"


def _setting(facts: Facts, plan: TrainPlan) -> Iterator[Conflict]:
    percent = plan.result("feed-setting", "setting", "percent")
    if percent is None:
        return
    suggested = plan.result("feed-setting", "suggested_strength", "g/L")
    hint = f"; {suggested:.3g} g/L would fit" if suggested else ""
    if percent > HIGHEST_SETTING:
        yield Conflict(
            "setting-high",
            "The dosing pump is too small or the solution too weak.",
            f"{percent:.3g} percent{hint}",
            is_red=percent > 100,
        )
    elif percent < LOWEST_SETTING:
        yield Conflict(
            "setting-low",
            "The solution is too strong for this dosing pump: dilute it.",
            f"{percent:.3g} percent{hint}",
        )


#: asked also while the system is typed, before any figure of the water is known
FEEDER_RULES: tuple[Rule, ...] = (
    _always_live,
    _injection_side,
    _drive_leads,
    _variable_speed,
    _feeder_pressure,
    _voltage,
    _peroxide_on_manganese_oxide,
)
RULES: tuple[Rule, ...] = (
    *FEEDER_RULES,
    _peroxide_for_manganese,
    _no_carbon,
    _chlorine_to_the_tap,
    _permanganate_without_filter,
    _above_use_level,
    _softener_after_oxidant,
    _iron_on_softener,
    _retention,
    *WASH_RULES,
    _contact_bed,
    _setting,
)
