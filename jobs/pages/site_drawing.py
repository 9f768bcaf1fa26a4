"""The system of a house as parts along a line of water."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.text import capfirst

from equipment.models import Stage, Train
from equipment.quantities import PlaceName


@dataclass(frozen=True)
class Tap:
    """Where water is taken, and the newest of what was read there."""

    name: str
    readings: list[str]


@dataclass
class Drawn:
    """One part along the line of water."""

    kind: str
    title: str
    detail: str = ""
    media: str = ""
    tap: Tap | None = None
    stage: Stage | None = None


def stages_of(
    train: Train, taps: dict[tuple[str, int], list[str]], pressures: dict[str, str]
) -> list[Drawn]:
    """Each part with its plain facts; the pressure tank stands where the water meets it."""
    parts = list(train.stages.all())
    drawn = [
        Drawn(
            part.kind,
            f"{number}. {capfirst(str(part))}",
            detail(part),
            media(part),
            tap("after it", readings_at(part, taps)),
            part,
        )
        for number, part in enumerate(parts, 1)
    ]
    drawn.insert(tank_place(train, parts), tank(pressures))
    raw = tap("raw water", taps.get((PlaceName.RAW, 0)))
    if raw and drawn[0].tap is None:
        drawn[0].tap = raw
    kitchen = tap("kitchen, cold", taps.get((PlaceName.TAP, 0)))
    return [*drawn, Drawn("house", "House", tap=kitchen)]


def tank_place(train: Train, parts: list[Stage]) -> int:
    """Behind the feeder (and the retention tank) when these stand before the pressure tank."""
    before: set[str] = set()
    if train.injection == Train.Side.BEFORE:
        before.add(Stage.Kind.FEEDER)
        if train.retention_side == Train.Side.BEFORE:
            before.add(Stage.Kind.RETENTION)
    places = [index for index, part in enumerate(parts, 1) if part.kind in before]
    return max(places, default=0)


def tank(pressures: dict[str, str]) -> Drawn:
    told = []
    if "pressure_tank_volume" in pressures:
        told.append(pressures["pressure_tank_volume"])
    if "cut_in" in pressures and "cut_out" in pressures:
        told.append(f"{pressures['cut_in'].split()[0]} to {pressures['cut_out']}")
    return Drawn("pressure_tank", "Pressure tank", "; ".join(told))


def tap(name: str, readings: list[str] | None) -> Tap | None:
    return Tap(name, readings[:5]) if readings else None


def readings_at(part: Stage, taps: dict[tuple[str, int], list[str]]) -> list[str] | None:
    return taps.get((PlaceName.AFTER_STAGE, part.pk))


def media(part: Stage) -> str:
    if part.medium and part.medium.raises_ph:
        return "crosses"
    return ""


def detail(part: Stage) -> str:
    """The facts of one part in one line."""
    told = [str(row) for row in (part.feed_pump, part.product, part.retention_tank) if row]
    told += [str(row) for row in (part.vessel, part.medium, part.resin) if row]
    if part.parallel_count > 1:
        told.append(f"{part.parallel_count} side by side")
    if part.bed_depth_in:
        told.append(f"bed {part.bed_depth_in:g} in deep")
    if part.media_volume_ft3:
        told.append(f"{part.media_volume_ft3:g} ft³")
    if part.solution_tank_gal:
        told.append(f"tank {part.solution_tank_gal:g} gal")
    if part.is_metered:
        told.append("counts gallons")
    return "; ".join(told)
