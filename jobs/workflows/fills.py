"""Solution or salt put into a tank, with or without a visit of ours."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.engineering.oxidant.dial_figures import down_to_mark
from equipment.engineering.oxidant.feeding import (
    DOSE_MOVED_PERCENT,
    Feed,
    dose_has_moved,
    dose_moved_percent,
    same_dose_setting,
)
from equipment.models import Fill, OxidantProduct, SettingChange, Stage
from equipment.on_file import fed
from equipment.quantities import SETTING_UNITS, SettingName
from jobs.errors import BadEntry
from jobs.models import FollowUpRule
from jobs.models.company import company_day

from . import follow_ups
from .log import log
from .moments import refuse_ahead

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
    #: percent, as the dosing pump was left; None: as it was
    setting_left: float | None = None


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
    if stage.kind == Stage.Kind.FEEDER:
        follow_ups.close_by_fill(fill=fill, by=by, now=now)
        _follow_the_dose(fill, poured, by=by, now=now)
    return fill


@dataclass(frozen=True)
class Weaker:
    """A solution of another strength: by how much it moves the dose, and the setting against it."""

    moved_percent: float
    setting: float
    same_dose: float
    #: smallest change the dosing pump can be set to
    step: float = 1.0

    @property
    def settable(self) -> float:
        return down_to_mark(self.same_dose, self.step)

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
            f"{self.setting:g} percent. For the same dose set {self.settable:g} percent."
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
    pump = stage.feed_pump
    return Weaker(moved, before.setting, same, pump.setting_step_percent if pump else 1.0)


def _follow_the_dose(fill: Fill, poured: Poured, *, by: User, now: datetime) -> None:
    """The strength on file is the new one; a dose that has moved is looked at again."""
    before = fed(fill.stage_id)
    left = {
        SettingName.STRENGTH: (before.strength, poured.strength_g_l),
        SettingName.OUTPUT: (before.setting, poured.setting_left),
    }
    for name, (old, new) in left.items():
        if new is None or new == old:
            continue
        SettingChange.objects.create(
            stage=fill.stage,
            name=name,
            old_value=old,
            new_value=new,
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
