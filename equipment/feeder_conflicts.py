"""What does not fit between a feeder, the pump that switches it, and the place it injects at.

Common practice, no source, unless said otherwise. A conflict is said when the plan is typed;
the start-up proves the switching in the water.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from .models import FeedPump, OxidantProduct, Stage, Train, Well

MANGANESE_PEROXIDE = "peroxide is destroyed by manganese dioxide and does not oxidise manganese"


@dataclass(frozen=True)
class Conflict:
    """`stops`: nobody starts a feeder like this."""

    field: str
    title: str
    text: str
    stops: bool = False


@dataclass(frozen=True, kw_only=True)
class FeederPlan:
    """The facts of one system that must fit together; empty where not known yet."""

    switching: str = ""
    injection: str = ""
    circuit_voltage: int | None = None
    controls: tuple[str, ...] = ()
    pump: FeedPump | None = None
    product: OxidantProduct | None = None
    cut_out_psi: float | None = None
    after_feeder_manganese_oxide: bool = False

    @property
    def follows_pump(self) -> bool:
        return self.switching in (
            Train.Switching.SWITCH_LOAD,
            Train.Switching.CURRENT_RELAY,
            Train.Switching.DRIVE_CONTACT,
        )


def conflicts(plan: FeederPlan) -> list[Conflict]:
    """Every conflict of a plan, stops first."""
    found = [*_switching(plan), *_drive(plan), *_pump(plan), *_product(plan)]
    return sorted(found, key=lambda row: not row.stops)


def _switching(plan: FeederPlan) -> list[Conflict]:
    found = []
    if plan.switching == Train.Switching.ALWAYS_LIVE:
        found.append(
            Conflict(
                "switching",
                "the feeder is always live",
                "It feeds with the pump off and fills the line with raw solution: the first glass "
                "burns the mouth. Leave it unplugged until it is switched by pump or flow.",
                True,
            )
        )
    if plan.follows_pump and plan.injection == Train.Side.AFTER:
        found.append(
            Conflict(
                "injection",
                "switched by the pump, but injecting after the pressure tank",
                "Water drawn from the tank passes without oxidant, and the refill gets too much. "
                "Inject between well and pressure tank, or switch by flow or meter.",
                True,
            )
        )
    by_flow = plan.switching in (Train.Switching.FLOW_SWITCH, Train.Switching.METERED)
    if by_flow and plan.injection == Train.Side.BEFORE:
        found.append(
            Conflict(
                "injection",
                "switched by flow, but injecting before the pressure tank",
                "The tank fills after the tap is shut: the flow seen by the switch is not the flow "
                "at the injector. Inject after the pressure tank.",
            )
        )
    return found


def _drive(plan: FeederPlan) -> list[Conflict]:
    if Well.Control.CONSTANT not in plan.controls:
        return []
    found = []
    if plan.switching == Train.Switching.SWITCH_LOAD:
        found.append(
            Conflict(
                "switching",
                "fed from the leads of a variable-speed drive",
                "The motor leads of a drive must never power a feeder. Use the drive's run contact "
                "only to switch, and metered pulses to set the dose.",
                True,
            )
        )
    if plan.switching and plan.switching != Train.Switching.METERED:
        found.append(
            Conflict(
                "switching",
                "fixed feed on a variable-speed pump",
                "The flow changes and the feed does not: the dose swings many times over. Only a "
                "feeder that follows metered pulses holds it.",
                True,
            )
        )
    return found


def _pump(plan: FeederPlan) -> list[Conflict]:
    if plan.pump is None:
        return []
    found = []
    if plan.cut_out_psi is not None and plan.pump.rated_pressure_psi < plan.cut_out_psi:
        found.append(
            Conflict(
                "feed_pump",
                "the feeder is rated below the cut-out pressure",
                f"Rated {plan.pump.rated_pressure_psi:g} psi, cut-out {plan.cut_out_psi:g} psi: "
                "the tube bursts and sprays solution. Fit a feeder rated above the relief setting.",
                True,
            )
        )
    if plan.circuit_voltage and plan.circuit_voltage != plan.pump.voltage:
        found.append(
            Conflict(
                "circuit_voltage",
                "the voltages do not match",
                f"The circuit has {plan.circuit_voltage} V, the feeder {plan.pump.voltage} V. "
                "Electric work is done by who holds the licence local code asks for.",
                True,
            )
        )
    return found


def _product(plan: FeederPlan) -> list[Conflict]:
    is_peroxide = plan.product and plan.product.oxidant == OxidantProduct.Oxidant.PEROXIDE
    if is_peroxide and plan.after_feeder_manganese_oxide:
        return [
            Conflict(
                "product",
                "peroxide ahead of a manganese dioxide bed",
                f"The two do not go together: {MANGANESE_PEROXIDE}. Use another oxidant or bed.",
            )
        ]
    return []


def plan_of(
    train: Train,
    *,
    stages: Iterable[Stage],
    controls: tuple[str, ...],
    cut_out_psi: float | None,
) -> FeederPlan:
    """The plan of a system as it stands; `stages` with their catalog rows."""
    parts = list(stages)
    feeder = next((part for part in parts if part.kind == Stage.Kind.FEEDER), None)
    later = [part for part in parts if feeder and part.position > feeder.position]
    return FeederPlan(
        switching=train.switching,
        injection=train.injection,
        circuit_voltage=train.circuit_voltage,
        controls=controls,
        pump=feeder.feed_pump if feeder else None,
        product=feeder.product if feeder else None,
        cut_out_psi=cut_out_psi,
        after_feeder_manganese_oxide=any(
            part.medium is not None and part.medium.is_manganese_oxide for part in later
        ),
    )
