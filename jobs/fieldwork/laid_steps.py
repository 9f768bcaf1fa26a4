"""Acts of the dial-back that wait on a phone, laid over the steps that the office knows."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from equipment.engineering.disinfection.contact import turnovers_run
from equipment.engineering.oxidant.pump_setting import SHARE, PumpSetting
from jobs.errors import JobsError

from .advice import turning_volume
from .dialling import BY_STRIP, band_read, checked, left_at
from .facts import Step
from .keys import LineKey
from .leaving import LEFT, leave_for_today
from .pump import figures_of
from .sheet import Sheet
from .states import PUT_RIGHT, counts, may_put_right
from .strips import doubt_on

SAID = {"yes": True, "no": False}
Payload = Mapping[str, Any]


@dataclass(frozen=True)
class Doing:
    """One act on a record as it stands, when it was done."""

    sheet: Sheet
    payload: Payload
    at: datetime
    #: the number of its step, None where it begins one
    number: int | None = None
    #: of the act
    name: str = ""

    @property
    def steps(self) -> tuple[Step, ...]:
        return self.sheet.steps

    def figure(self, name: str) -> float | None:
        text = str(self.payload.get(name) or "").strip().replace(",", ".")
        return float(text) if text else None


def set_step(doing: Doing) -> tuple[Step, ...]:
    """A step more; none while the last one waits for its reading."""
    steps, sheet = doing.steps, doing.sheet
    last = steps[-1] if steps else None
    if last and last.read_at is None and not last.skip_reason:
        return steps
    typed: dict[str, Any] = {name: doing.figure(name) for name in figures_of(sheet)}
    setting = checked(sheet, PumpSetting(percent=typed.pop(SHARE, None) or 0.0, **typed))
    step = Step(
        number=last.number + 1 if last else 1,
        setting=setting,
        set_at=doing.at,
        drawdown_ml_min=doing.figure("drawdown_ml_min"),
        tap_flow_gpm=doing.figure("tap_flow_gpm") or sheet.value(LineKey.TAP_FLOW),
        made_by=doing.name,
    )
    return (*steps, step)


def read_step(doing: Doing) -> tuple[Step, ...]:
    """Look and residual of a step; a reading that was not used is followed by another."""
    said, sheet = doing.payload, doing.sheet
    step, steps = _step(doing), doing.steps
    if step is None or (step.doubt and step != steps[-1]):
        return steps
    if counts(step):
        if not said.get("again") or not may_put_right(step, steps):
            return steps
        step = replace(step, doubt=PUT_RIGHT)
        steps = _with(doing, step)
    meter = doing.figure("meter")
    low, high = (meter, meter) if meter is not None else band_read(str(said["band"]))
    by_strip = meter is None and sheet.oxidant in BY_STRIP
    beside = sheet.facts.beside
    read = replace(
        step,
        number=step.number + 1 if step.doubt else step.number,
        made_by=doing.name if step.doubt else step.made_by,
        read_at=doing.at,
        look=str(said["look"]),
        residual_low_mg_l=low,
        residual_high_mg_l=high,
        iron_clear=SAID.get(str(said.get("iron_clear"))),
        odour_clear=SAID.get(str(said.get("odour_clear"))),
        colour_gone=SAID.get(str(said.get("colour_gone"))),
        turnovers=turnovers_since(sheet, step, doing.at),
        skip_reason="",
        strips=beside.strips if by_strip else "",
        doubt=doubt_on(beside, doing.at.date()) if by_strip else "",
    )
    if step.doubt:
        return (*steps, read)
    return _with(doing, read)


def turnovers_since(sheet: Sheet, step: Step, moment: datetime) -> float | None:
    """Volumes that have run since it was set; None where tap flow or volume are not known."""
    volume, flow = turning_volume(sheet.outcomes), step.tap_flow_gpm
    if not volume or not flow:
        return None
    return turnovers_run((moment - step.set_at) / timedelta(minutes=1), flow, volume)


def skip_step(doing: Doing) -> tuple[Step, ...]:
    step, reason = _step(doing), str(doing.payload.get("reason", "")).strip()
    if step is None or counts(step) or not reason:
        return doing.steps
    return _with(doing, replace(step, skip_reason=reason[:200]))


def keep_step(doing: Doing) -> tuple[Step, ...]:
    """The setting that stays; it must stand on a reading that counts."""
    step = _step(doing)
    if step is None or not counts(step):
        return doing.steps
    return tuple(replace(each, is_final=each.number == step.number) for each in doing.steps)


def check_feeder(doing: Doing) -> tuple[Step, ...]:
    step, found = _step(doing), str(doing.payload.get("found", ""))
    if step is None or not counts(step) or found not in ("sound", "mended"):
        return doing.steps
    return _with(doing, replace(step, feeder_check=found))


def leave_so(doing: Doing) -> tuple[Step, ...]:
    """Set to where it is left for the day; as it was where there is no such setting."""
    way = leave_for_today(doing.sheet)
    setting = left_at(doing.sheet, way)
    if way is None or setting is None or is_left(doing.steps):
        return doing.steps
    steps = [replace(step, is_final=False) for step in doing.steps]
    last = steps[-1]
    if last.setting == setting:
        steps.pop()
    else:
        last = Step(
            number=last.number + 1,
            setting=setting,
            set_at=doing.at,
            tap_flow_gpm=last.tap_flow_gpm,
            skip_reason=LEFT,
            made_by=doing.name,
        )
    return (*steps, replace(last, is_final=True, left_because=way.because[:160]))


def is_left(steps: tuple[Step, ...]) -> bool:
    return any(step.left_because for step in steps)


def taken_back(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """The dial-back goes on after it was left."""
    return tuple(
        replace(step, left_because="", is_final=False) if step.left_because else step
        for step in steps
    )


def _step(doing: Doing) -> Step | None:
    return next((step for step in doing.steps if step.number == doing.number), None)


def _with(doing: Doing, fresh: Step) -> tuple[Step, ...]:
    return tuple(fresh if step.number == fresh.number else step for step in doing.steps)


KINDS: dict[str, Callable[[Doing], tuple[Step, ...]]] = {
    "step-set": set_step,
    "step-read": read_step,
    "step-skip": skip_step,
    "step-keep": keep_step,
    "step-checked": check_feeder,
    "step-leave": leave_so,
}
#: after these the dial-back is not left any more
GO_ON = ("step-set", "step-read", "step-keep")


def steps_after(doing: Doing, kind: str) -> tuple[Step, ...]:
    """The steps once that act is done; as they were where the office would refuse it."""
    try:
        return KINDS[kind](doing)
    except (JobsError, KeyError, ValueError, TypeError):
        return doing.steps
