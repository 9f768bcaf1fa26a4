"""From what is on file about a system to a plan of the whole train, and storing the plan."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, replace
from datetime import datetime

from django.contrib.auth.models import User

from equipment.engineering.beds.lift import free_height_in
from equipment.engineering.errors import EngineeringError
from equipment.engineering.factors import cylinder_gal
from equipment.engineering.oxidant.feeding import FEEDER_CALIBRATION
from equipment.engineering.plan.facts import (
    METHOD,
    Facts,
    Feeder,
    House,
    Part,
    Source,
    TrainPlan,
    Water,
)
from equipment.engineering.plumbing.demand import household_use_gal, peak_demand
from equipment.engineering.results import q
from equipment.engineering.units import Quantity, quantity
from equipment.quantities import PlaceName, SettingName

from .models import Stage, StoredAssessment, Train, Well
from .on_file import OnFile


@dataclass(frozen=True)
class Aims:
    """What the company aims at; the caller takes it from its own values."""

    residual_mg_l: float | None = None
    retention_minimum_min: float | None = None


def facts_of(train: Train, aims: Aims, *, wells: list[Well] | None = None) -> Facts:
    """Everything on file that a plan rests on, in a fixed number of queries.

    Of a system that is only typed so far: the row as typed, and `wells` as they are ticked.
    """
    wells = list(train.wells.all()) if wells is None else wells
    wells = wells or list(Well.objects.at_site(train.site))
    stages = list(train.stages.fitted().with_catalog()) if train.pk else []
    figures = OnFile(train.site, wells=wells)
    feeder = next((stage for stage in stages if stage.kind == Stage.Kind.FEEDER), None)
    is_joined = feeder is not None or train.switching or train.injection
    people = figures.value("people")
    daily = figures.take("daily_use") or (q(household_use_gal(people), "gal") if people else None)
    return Facts(
        water=Water(
            **{
                key: figures.take(key, PlaceName.RAW)
                for key in ("iron", "manganese", "sulfide", "ammonia", "hardness", "temperature")
            },
            ph=figures.value("ph", PlaceName.RAW),
        ),
        source=_source(figures, wells),
        house=House(people=people, daily_use=daily, peak_flow=_peak(figures)),
        feeder=_feeder(train, feeder, figures) if is_joined else None,
        parts=tuple(
            _part(train, stage, feeder, figures)
            for stage in stages
            if stage.kind != Stage.Kind.FEEDER
        ),
        residual=q(aims.residual_mg_l, "mg/L"),
        retention_minimum=q(aims.retention_minimum_min, "min"),
    )


def _peak(figures: OnFile) -> Quantity | None:
    """Peak draw as told, else what the bathrooms can ask for and pump and tank can give."""
    told, bathrooms = figures.take("peak_flow"), figures.value("bathrooms")
    if told is not None or bathrooms is None:
        return told
    try:
        answer = peak_demand(
            bathrooms=bathrooms,
            pump_flow=figures.take("pump_flow"),
            drawdown=figures.take("drawdown_volume"),
        )
    except EngineeringError:
        return None
    return answer.deliverable_flow or answer.flow


def _source(figures: OnFile, wells: list[Well]) -> Source:
    return Source(
        pump_flow=figures.take("pump_flow"),
        well_yield=figures.take("well_yield"),
        stored_volume=_bore_water(figures),
        drawdown=figures.take("drawdown_volume"),
        cut_out=figures.take("cut_out"),
        constant_pressure=any(well.control == Well.Control.CONSTANT for well in wells),
    )


def _bore_water(figures: OnFile) -> Quantity | None:
    """Water between the static level and the pump."""
    diameter, level = figures.value("casing_diameter"), figures.value("static_level")
    pump = figures.value("pump_depth")
    if diameter is None or level is None or pump is None or pump <= level:
        return None
    return quantity(cylinder_gal(diameter, pump - level), "gal")


def _feeder(train: Train, stage: Stage | None, figures: OnFile) -> Feeder:
    """The dosing pump as it is joined; before it is fitted only how it will be."""
    joined = Feeder(
        switching=train.switching,
        injection=train.injection,
        circuit_voltage=train.circuit_voltage,
    )
    if stage is None:
        return joined
    product, pump = stage.product, stage.feed_pump
    strength = figures.setting(stage, SettingName.STRENGTH) or (
        product.strength_g_l if product else None
    )
    return replace(
        joined,
        oxidant=product.oxidant if product else "",
        strength=q(strength, "g/L"),
        output=_measured_output(stage) or q(pump.nameplate_output_gpd if pump else None, "gpd"),
        is_timer=bool(pump and pump.head == pump.Head.TIMER),
        cycle=q(_cycle(stage, figures), "s"),
        rated_pressure=q(pump.rated_pressure_psi if pump else None, "psi"),
        tank_volume=q(stage.solution_tank_gal, "gal"),
        shelf_life=q(product.shelf_life_days if product else None, "day"),
        maximum_use_level=q(product.maximum_use_level_mg_l if product else None, "mg/L"),
        voltage=pump.voltage if pump else None,
    )


def _cycle(stage: Stage, figures: OnFile) -> float | None:
    """Of a timer pump: as it was last set, before that the longest it can be set to."""
    stands = figures.pump(stage)
    if stands and stands.cycle_s:
        return stands.cycle_s
    return stage.feed_pump.cycle_s if stage.feed_pump else None


def _measured_output(stage: Stage) -> Quantity | None:
    """Output at 100 percent as last drawn from the cylinder of the pump that is fitted."""
    drawn = (
        StoredAssessment.objects.standing()
        .filter(name=FEEDER_CALIBRATION, train=stage.train_id)
        .filter(recorded_at__date__gte=stage.fitted_on)
        .order_by("recorded_at", "pk")
        .last()
    )
    output = drawn.results["output"] if drawn else None
    return quantity(output["value"], output["unit"]) if output else None


def _part(train: Train, stage: Stage, feeder: Stage | None, figures: OnFile) -> Part:
    medium, tank, resin, vessel = stage.medium, stage.retention_tank, stage.resin, stage.vessel
    return Part(
        key=str(stage.pk),
        label=str(stage),
        kind=stage.kind,
        behind_feeder=feeder is None or stage.position > feeder.position,
        volume=q(tank.volume_gal if tank else None, "gal"),
        baffling_factor=tank.baffling_factor if tank else None,
        side=train.retention_side if tank else "",
        diameter=q(vessel.diameter_in if vessel else None, "in"),
        bed_depth=q(stage.bed_depth_in, "in"),
        bed_volume=q(stage.media_volume_ft3, "ft3"),
        count=stage.parallel_count,
        wash_rate=q(medium.backwash_low_gpm_ft2 if medium else None, "gpm/ft2"),
        wash_rate_high=q(medium.backwash_high_gpm_ft2 if medium else None, "gpm/ft2"),
        freeboard=_freeboard(stage),
        rate_temperature=q(medium.rate_temperature_c if medium else None, "degC"),
        interval_cap=q(medium.interval_max_days if medium else None, "day"),
        loading_limit=q(medium.loading_limit_grain_ft2 if medium else None, "grain/ft2"),
        is_carbon=bool(medium and medium.is_carbon),
        is_manganese_oxide=bool(medium and medium.is_manganese_oxide),
        iron_limit=q(resin.iron_limit_mg_l if resin else None, "mg/L"),
        salt_dose=q(stage.salt_dose_lb_ft3, "lb/ft3"),
        wash_hour=figures.setting(stage, SettingName.WASH_HOUR),
    )


def _freeboard(stage: Stage) -> Quantity | None:
    """Room above the bed, None where a size is missing or the bed fills the vessel."""
    if stage.vessel is None or stage.bed_depth_in is None:
        return None
    free = free_height_in(stage.vessel.diameter_in, stage.vessel.height_in, stage.bed_depth_in)
    return q(free, "in") if free > 0 else None


def store_plan(
    *, train: Train, plan: TrainPlan, by: User, now: datetime, occasion: uuid.UUID | None = None
) -> StoredAssessment:
    """Keep a plan as evidence of what was worked out on that day."""
    return StoredAssessment.objects.create(
        name="train-plan",
        method_version=METHOD,
        site_id=train.site_id,
        train=train,
        inputs={step.name: step.as_json().get("inputs", {}) for step in plan.steps},
        results=plan.as_json(),
        warnings=[conflict.sentence for conflict in plan.conflicts],
        recorded_at=now,
        recorded_by=by,
        occasion=occasion,
    )
