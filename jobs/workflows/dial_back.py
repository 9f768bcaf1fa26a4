"""The dial-back: set, wait three turnovers, look, read; every step is kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User
from django.db import transaction

from equipment.engineering.oxidant.largest_dose import USE_LEVEL, LargestDose
from equipment.engineering.oxidant.pump_setting import PumpSetting
from jobs.errors import BadEntry, JobsError, WrongState
from jobs.fieldwork.advice import dose_at
from jobs.fieldwork.dialling import beyond, checked
from jobs.fieldwork.keys import LineKey
from jobs.fieldwork.laid_steps import turnovers_since
from jobs.fieldwork.pump import figures_of
from jobs.fieldwork.sheet import Sheet
from jobs.fieldwork.states import FAILED, OPEN, PASSED, PUT_RIGHT, counts
from jobs.models import ChecklistRecord, DialStep
from jobs.records.loading import load_sheet
from jobs.records.steps import step_facts
from jobs.wording.pump_settings import setting_said

from . import strips
from .answers import open_and_allowed
from .leaving import take_back
from .log import log
from .moments import done_at
from .reasons import reason_given
from .shared_water import refuse_for_dialysis

#: where it fed against a rule
WHAT_NOW = "Unplug the dosing pump and call the office."


@transaction.atomic
def set_step(
    *,
    record: ChecklistRecord,
    setting: PumpSetting,
    by: User,
    now: datetime,
    at: datetime | None = None,
    drawdown_ml_min: float | None = None,
    tap_flow_gpm: float | None = None,
    is_set_already: bool = False,
) -> DialStep:
    """The dosing pump was set: the wait begins. Sent twice, it is one step.

    What was set already is kept as it happened, also where `forbidden` says why it must not run.
    """
    record = open_and_allowed(record, by)
    moment = done_at(record, at, now)
    _within("tap_flow_gpm", tap_flow_gpm)
    _within("drawdown_ml_min", drawdown_ml_min)
    sheet = load_sheet(record, now=now)
    if sheet.feeder is None:
        raise WrongState("This system has no dosing pump.")
    setting = checked(sheet, setting)
    against = _against(record, sheet, setting)
    if against and not is_set_already:
        raise against
    last = sheet.steps[-1] if sheet.steps else None
    if last and last.read_at is None and not last.skip_reason:
        if last.setting == setting:
            return _step(record, last.number)
        raise WrongState(
            f"Step {last.number} has no reading yet: read it, or say why it cannot be read.",
            field=figures_of(sheet)[0],
        )
    if last and moment < (last.read_at or last.set_at):
        raise BadEntry(f"It cannot be set before step {last.number}.", field="at")
    take_back(record)
    return DialStep.objects.create(
        record=record,
        number=last.number + 1 if last else 1,
        setting_percent=setting.percent,
        marks=setting.marks,
        set_at=moment,
        drawdown_ml_min=drawdown_ml_min,
        tap_flow_gpm=tap_flow_gpm or sheet.value(LineKey.TAP_FLOW),
        against=against.message[:300] if against else "",
        by=by,
    )


def name_step(*, step: DialStep, act: UUID) -> None:
    """After the act that made it; a step that has a name keeps it."""
    if step.made_by is None:
        step.made_by = act
        step.save(update_fields=["made_by"])


def _refuse_oxidant(record: ChecklistRecord, sheet: Sheet, setting: PumpSetting) -> None:
    """What forbids to feed now: uses of the water, chlorine still in, above the use level."""
    feeder = sheet.feeder
    refuse_for_dialysis(site=record.site, train=record.train)
    asked = sheet.item(LineKey.USES_ASKED)
    if asked and asked.state != PASSED:
        raise WrongState(f"No oxidant before it was asked about. {asked.label}.")
    flushed = sheet.item(LineKey.FLUSH_LOW)
    if flushed and flushed.state in (OPEN, FAILED):
        raise WrongState(
            "No oxidant while chlorine may still be in the pipes: the low-range reading after "
            "flushing has not passed."
        )
    level = feeder.product.maximum_use_level_mg_l if feeder and feeder.product else None
    dose = dose_at(sheet.outcomes, setting.percent)
    if level and dose and LargestDose(level, USE_LEVEL).is_passed_by(dose):
        raise BadEntry(
            f"{setting.percent:.3g} percent would feed {dose:.3g} mg/L; the product's maximum use "
            f"level is {level:g} mg/L.",
            field=figures_of(sheet)[0],
        )


def forbidden(*, record: ChecklistRecord, setting: PumpSetting, now: datetime) -> str:
    """Why the dosing pump must not run at that setting, "" where nothing forbids it."""
    sheet = load_sheet(record, now=now)
    if sheet.feeder is None:
        return ""
    against = _against(record, sheet, checked(sheet, setting))
    return against.message if against else ""


def _against(record: ChecklistRecord, sheet: Sheet, setting: PumpSetting) -> JobsError | None:
    try:
        _refuse_oxidant(record, sheet, setting)
    except JobsError as refusal:
        return refusal
    return None


@dataclass(frozen=True)
class Seen:
    """What glass, strip and nose say at the tap; None where nobody looked."""

    look: str
    residual_low: float | None = None
    residual_high: float | None = None
    iron_clear: bool | None = None
    odour_clear: bool | None = None
    #: permanganate: no colour left after the filter
    colour_gone: bool | None = None
    tap_flow_gpm: float | None = None
    #: the residual is a band between two pads, not what a meter reads
    by_strip: bool = False
    #: takes the place of a reading that was noted wrong
    again: bool = False


@transaction.atomic
def read_step(
    *,
    record: ChecklistRecord,
    number: int,
    seen: Seen,
    by: User,
    now: datetime,
    at: datetime | None = None,
) -> DialStep:
    """Look and residual of a step. Before three turnovers it is kept as early and not used."""
    record = open_and_allowed(record, by)
    take_back(record)
    step = _step(record, number)
    if counts(step_facts(step)):
        if not seen.again or step.is_final:
            raise WrongState(f"Step {number} has its reading. Put it right, or set again.")
        step.doubt = PUT_RIGHT
        step.save(update_fields=["doubt"])
    if step.doubt:
        step = _read_again(record, step)
    if seen.look not in DialStep.Look.values:
        raise BadEntry("Say how the glass looks, or that nobody looked.", field="look")
    low, high = _residual(seen.residual_low, seen.residual_high)
    moment = done_at(record, at, now)
    if moment < step.set_at:
        raise BadEntry("It cannot be read before it was set.", field="read_at")
    step.read_at, step.look = moment, seen.look
    step.residual_low_mg_l, step.residual_high_mg_l = low, high
    step.iron_clear, step.odour_clear = seen.iron_clear, seen.odour_clear
    step.colour_gone = seen.colour_gone
    step.tap_flow_gpm = seen.tap_flow_gpm or step.tap_flow_gpm
    step.turnovers = turnovers_since(load_sheet(record, now=now), step_facts(step), moment)
    step.skip_reason, step.skipped_at, step.by = "", None, by
    step.strips, step.doubt = None, ""
    if seen.by_strip:
        step.strips, step.doubt = strips.in_doubt(record, at=moment)
    step.save()
    return step


def _read_again(record: ChecklistRecord, step: DialStep) -> DialStep:
    """Another reading of the same setting; the one that is not used stays as it was read."""
    if record.steps.filter(number__gt=step.number).exists():
        raise WrongState(f"The dosing pump was set again since step {step.number}.")
    again = DialStep(record=record, number=step.number + 1)
    for name in ("setting_percent", "marks", "set_at", "drawdown_ml_min", "tap_flow_gpm"):
        setattr(again, name, getattr(step, name))
    return again


def _within(name: str, value: float | None, field: str = "") -> None:
    if said := beyond(name, value):
        raise BadEntry(said, field=field or name)


def _residual(low: float | None, high: float | None) -> tuple[float | None, float | None]:
    _within("residual", low, field="residual_low")
    _within("residual", high, field="residual_low")
    if low is not None and high is not None and high < low:
        raise BadEntry("Residual: the upper end must not be below the lower.", field="residual_low")
    return low, high


@transaction.atomic
def skip_step(
    *,
    record: ChecklistRecord,
    number: int,
    reason: str,
    by: User,
    now: datetime,
    at: datetime | None = None,
) -> DialStep:
    """A step that could not be read, with the reason and when it was given up."""
    record = open_and_allowed(record, by)
    step, moment = _step(record, number), done_at(record, at, now)
    if moment < step.set_at:
        raise BadEntry("It cannot be given up before it was set.", field="at")
    if counts(step_facts(step)):
        raise WrongState(f"Step {number} has its reading.")
    reason_given(reason, "Say why it could not be read.")
    step.skip_reason, step.skipped_at = reason.strip()[:200], moment
    step.save(update_fields=["skip_reason", "skipped_at"])
    return step


@transaction.atomic
def check_feeder(
    *,
    record: ChecklistRecord,
    number: int,
    found: str,
    by: User,
    now: datetime,
    at: datetime | None = None,
) -> DialStep:
    """Prime, tube, injector, valves and solution were looked at after the reading of this step.

    Where something was put right, zeros read before it prove nothing any more.
    """
    record = open_and_allowed(record, by)
    step, moment = _step(record, number), done_at(record, at, now)
    if found not in DialStep.FeederCheck.values:
        raise BadEntry("Say whether something was put right.", field="checked")
    if not counts(step_facts(step)):
        raise WrongState(f"Step {number} has no reading that the dosing pump could explain.")
    if record.steps.filter(number__gt=number).exists():
        raise WrongState("The dosing pump was set again since: it is the last step that counts.")
    if step.read_at and moment < step.read_at:
        raise BadEntry("It cannot be checked before the reading.", field="at")
    step.feeder_check, step.feeder_checked_at = found, moment
    step.save(update_fields=["feeder_check", "feeder_checked_at"])
    log(
        verb="dosing_pump_checked",
        subject=record,
        by=by,
        now=now,
        site=record.site,
        step=number,
        found=found,
    )
    return step


@transaction.atomic
def keep_as_final(
    *,
    record: ChecklistRecord,
    number: int,
    by: User,
    now: datetime,
    at: datetime | None = None,
) -> DialStep:
    """The setting that stays. It must stand on a reading after three turnovers."""
    record = open_and_allowed(record, by)
    step, moment = _step(record, number), done_at(record, at, now)
    if not counts(step_facts(step)):
        raise WrongState(
            "The final setting needs a residual read after three turnovers at the running tap."
        )
    take_back(record)
    step.refresh_from_db()
    record.steps.filter(is_final=True).exclude(pk=step.pk).update(is_final=False)
    step.is_final = True
    step.save(update_fields=["is_final"])
    log(
        verb="setting_kept",
        subject=record,
        by=by,
        now=now,
        site=record.site,
        step=number,
        setting=setting_said(step.setting),
        done=moment.isoformat(),
    )
    return step


def _step(record: ChecklistRecord, number: int) -> DialStep:
    found = record.steps.select_for_update().filter(number=number).first()
    if found is None:
        raise BadEntry(f"There is no step {number} on this record.", field="number")
    return found
