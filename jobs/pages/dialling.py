"""What stands beside the steps of a dial-back: strips, time and water, and the way out."""

from __future__ import annotations

from jobs.fieldwork.dialling import set_for
from jobs.fieldwork.leaving import (
    MOST_SETTINGS,
    doubted,
    leave_for_today,
    next_step,
    settings_tried,
    spent,
    well_falls_short,
    yield_today,
)
from jobs.fieldwork.pump import head_of
from jobs.fieldwork.sheet import Sheet
from jobs.forms.dial_steps import BY_STRIP
from jobs.forms.strips import StripsForm
from jobs.models import ChecklistRecord
from jobs.models.company import company_day
from jobs.wording.pump_settings import setting_said
from jobs.workflows.strips import doubt_of, in_use


def dial_beside(
    record: ChecklistRecord, sheet: Sheet, dial: dict[str, object]
) -> dict[str, object]:
    """Nothing on pages without steps."""
    if not dial or sheet.feeder is None:
        return {}
    return {"tally": _tally(sheet), "way_out": _way_out(sheet)} | _strips(record, sheet)


def _strips(record: ChecklistRecord, sheet: Sheet) -> dict[str, object]:
    if sheet.oxidant not in BY_STRIP:
        return {}
    check = in_use(record, at=sheet.now)
    return {
        "strips": check.lot if check else None,
        "strips_doubt": doubt_of(check, company_day(sheet.now)) if check else "",
        "strips_form": StripsForm(
            oxidant=sheet.oxidant, initial={"lot": check.lot_id if check else None}
        ),
    }


def _tally(sheet: Sheet) -> dict[str, object]:
    """Settings, minutes and gallons of this visit, and what a step more takes."""
    return {
        "tried": settings_tried(sheet),
        "most": MOST_SETTINGS,
        "spent": spent(sheet),
        "next": next_step(sheet),
        "yield": yield_today(sheet),
        "short": well_falls_short(sheet),
    }


def _way_out(sheet: Sheet) -> dict[str, str]:
    left = next((step for step in sheet.steps if step.left_because), None)
    if left:
        return {"left": setting_said(left.setting, head_of(sheet)), "why": left.left_because}
    way = leave_for_today(sheet)
    if way is None:
        return {}
    setting = way.setting or (set_for(sheet, way.percent) if way.percent else None)
    return {
        "because": way.because,
        "setting": setting_said(setting, head_of(sheet)) if setting else "",
        "doubted": doubted(sheet),
    }
