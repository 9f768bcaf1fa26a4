"""Solution or salt put into a tank, with or without a visit of ours."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.assessments import Aims, facts_of
from equipment.engineering.errors import EngineeringError
from equipment.engineering.oxidant.dial_figures import down_to_mark
from equipment.engineering.oxidant.feeding import (
    DOSE_MOVED_PERCENT,
    Feed,
    dose_from_setting,
    dose_has_moved,
    dose_moved_percent,
    same_dose_setting,
)
from equipment.engineering.oxidant.largest_dose import LargestDose, largest_dose
from equipment.engineering.oxidant.pump_setting import FIGURES, PumpSetting, nearest, set_to
from equipment.engineering.plan.facts import Facts
from equipment.engineering.units import quantity, size_in
from equipment.models import Fill, OxidantProduct, SettingChange, Stage
from equipment.on_file import OnFile, fed
from equipment.quantities import SETTING_UNITS, SettingName
from jobs.errors import BadEntry
from jobs.fieldwork.advice import ASKS_FOR_OXIDANT
from jobs.fieldwork.keys import PanelName
from jobs.fieldwork.largest import over_said
from jobs.models import FollowUpRule
from jobs.models.company import company_day
from jobs.wording.pump_settings import LABELS, setting_said

from . import follow_ups, recalls
from .log import log
from .moments import refuse_ahead
from .plans import plan_of

#: percent
FULL = 100


@dataclass(frozen=True)
class Poured:
    """What went into a tank and when: solution with its strength, or salt; levels; by whom."""

    at: datetime
    product: OxidantProduct | None = None
    lot: str = ""
    strength_g_l: float | None = None
    product_gal: float | None = None
    water_gal: float | None = None
    salt_lb: float | None = None
    level_before_gal: float | None = None
    level_after_gal: float | None = None
    filled_by: str = Fill.FilledBy.COMPANY
    #: figures as the dosing pump was left, by name; none: as it was, and so are those left out
    setting_left: Mapping[str, float] | None = None


@transaction.atomic
def record_fill(
    *,
    stage: Stage,
    poured: Poured,
    by: User,
    now: datetime,
    occasion: uuid.UUID | None = None,
) -> Fill:
    """A fill keeps the refill promise of that tank and makes the next one."""
    left = _left_at(stage, poured)
    refuse_ahead(poured.at, now, what="time of the fill")
    tank, level = stage.solution_tank_gal, poured.level_after_gal
    if tank and level is not None and level > tank:
        raise BadEntry(f"The tank holds {tank:g} gal: at most that.", field="level_after_gal")
    fill = Fill.objects.create(
        stage=stage,
        product=poured.product or stage.product,
        lot=poured.lot,
        strength_g_l=poured.strength_g_l,
        product_gal=poured.product_gal,
        water_gal=poured.water_gal,
        salt_lb=poured.salt_lb,
        level_before_gal=poured.level_before_gal,
        level_after_gal=level,
        filled_by=poured.filled_by,
        at=poured.at,
        recorded_at=now,
        recorded_by=by,
        occasion=occasion,
    )
    log(verb="filled", subject=fill, by=by, now=now, site=stage.train.site)
    recalls.look_at(stage=stage, by=by, now=now)
    if stage.kind == Stage.Kind.FEEDER:
        follow_ups.close_by_fill(fill=fill, by=by, now=now)
        _follow_the_dose(fill, poured, left, by=by, now=now)
    return fill


def _now(stage: Stage) -> PumpSetting | None:
    """What the dosing pump was last set to."""
    row = SettingChange.objects.current(stage, SettingName.OUTPUT)
    return row.pump_now if row else None


def _flow(stage: Stage) -> float | None:
    """Only a pump that counts pulses is set by the flow."""
    pump = stage.feed_pump
    if pump is None or pump.head != pump.Head.METERED:
        return None
    return OnFile(stage.train.site).value("pump_flow")


def _left_at(stage: Stage, poured: Poured) -> PumpSetting | None:
    """The setting after the fill, None where it was left as it was."""
    if not poured.setting_left:
        return None
    before, pump = _now(stage), stage.feed_pump
    figures = {
        name: poured.setting_left.get(name, before.figure(name) if before else None)
        for name in FIGURES[pump.head if pump else ""]
    }
    try:
        return set_to(figures, pump, flow_gpm=_flow(stage))
    except EngineeringError as refusal:
        label = LABELS.get(refusal.key, ("Dosing pump setting", ""))[0]
        raise BadEntry(f"{label}: {refusal.message}.", field=refusal.key) from refusal


@dataclass(frozen=True)
class Weaker:
    """A solution of another strength: by how much it moves the dose, and the setting against it."""

    moved_percent: float
    setting: PumpSetting
    same_dose: float
    #: what this pump can be set to for it
    settable: PumpSetting

    @property
    def said(self) -> str:
        """What to do with the dosing pump, in words."""
        if self.same_dose > FULL:
            return (
                f"This solution is too weak for the dose: it would need a setting of "
                f"{self.same_dose:.0f} percent. Mix it stronger."
            )
        return (
            f"The dose moves by {self.moved_percent:.0f} percent at the setting of "
            f"{setting_said(self.setting)}. For the same dose set {setting_said(self.settable)}."
        )


def weaker_or_stronger(stage: Stage, strength: float | None) -> Weaker | None:
    """What another strength asks of the setting; None where the dose stays within a tenth."""
    before = fed(stage.pk)
    if not strength or before.setting is None:
        return None
    same = same_dose_setting(before, strength)
    moved = dose_moved_percent(before, Feed(before.setting, strength))
    if same is None or moved <= DOSE_MOVED_PERCENT:
        return None
    now, pump = _now(stage) or PumpSetting(percent=before.setting), stage.feed_pump
    mark = down_to_mark(min(same, FULL), pump.setting_step_percent if pump else 1.0)
    try:
        settable = nearest(mark, pump, now=now, flow_gpm=_flow(stage))
    except EngineeringError:
        settable = PumpSetting(percent=mark)
    return Weaker(moved, now, same, settable)


def too_strong(stage: Stage, poured: Poured) -> str:
    """What to do now where the setting as it stands after the fill passes the largest dose."""
    setting = _left_at(stage, poured) or _now(stage)
    strength = poured.strength_g_l or fed(stage.pk).strength
    if stage.kind != Stage.Kind.FEEDER or not setting or not strength:
        return ""
    facts = facts_of(stage.train, Aims())
    dose, largest = _dose(facts, strength, setting), _largest(stage, poured, facts)
    if largest is None or dose is None:
        return ""
    flow, pump = _flow(stage), stage.feed_pump
    said = over_said(setting, dose=dose, largest=largest, pump=pump, flow_gpm=flow)
    return f"with this solution the setting of {setting_said(setting)} {said}" if said else ""


def _dose(facts: Facts, strength: float, setting: PumpSetting) -> float | None:
    """What is fed at that setting, mg/L, by what is on file; None where too little is."""
    feeder, flow = facts.feeder, facts.source.pump_flow
    if feeder is None or feeder.output is None or flow is None:
        return None
    try:
        found = dose_from_setting(
            flow=flow,
            strength=quantity(strength, "g/L"),
            feeder_output=feeder.output,
            setting=quantity(setting.percent, "percent"),
        )
    except EngineeringError:
        return None
    return size_in(found.dose, "mg/L")


def _largest(stage: Stage, poured: Poured, facts: Facts) -> LargestDose | None:
    product = next(filter(None, (poured.product, stage.product)), None)
    if product is None:
        return None
    need, is_measured = None, any(getattr(facts.water, key) for key in ASKS_FOR_OXIDANT)
    if product.oxidant == product.Oxidant.PERMANGANATE and is_measured:
        need = plan_of(stage.train).result(PanelName.OXIDANT_DEMAND, "demand", "mg/L")
    level = product.maximum_use_level_mg_l
    return largest_dose(product.oxidant, use_level=level, need=need)


def _follow_the_dose(
    fill: Fill, poured: Poured, left: PumpSetting | None, *, by: User, now: datetime
) -> None:
    """The strength on file is the new one; a dose that has moved is looked at again."""
    before, stood = fed(fill.stage_id), _now(fill.stage)
    changes = {
        SettingName.STRENGTH: (before.strength, poured.strength_g_l, {}, {}),
        SettingName.OUTPUT: (
            before.setting,
            left.percent if left else None,
            stood.marks if stood else {},
            left.marks if left else {},
        ),
    }
    for name, (old, new, old_marks, new_marks) in changes.items():
        if new is None or (new, new_marks) == (old, old_marks):
            continue
        SettingChange.objects.create(
            stage=fill.stage,
            name=name,
            old_value=old,
            new_value=new,
            old_marks=old_marks,
            new_marks=new_marks,
            unit=SETTING_UNITS[name],
            at=fill.at,
            reason="left so at the fill",
            recorded_at=now,
            recorded_by=by,
            occasion=fill.occasion,
        )
    after = fed(fill.stage_id)
    if not dose_has_moved(before, after):
        return
    stage = Stage.objects.with_catalog().select_related("train__site").get(pk=fill.stage_id)
    follow_ups.happened(
        event=FollowUpRule.Event.SETTING_CHANGED,
        about=follow_ups.About(stage.train.site, stage.train, stage),
        day=company_day(fill.at),
        by=by,
        now=now,
        dose_moved_percent=dose_moved_percent(before, after),
    )
