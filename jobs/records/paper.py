"""What a record says on paper: one plain structure for the page to print and for the PDF."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from equipment.engineering.results import Json
from equipment.models import SettingChange, StoredAssessment
from equipment.quantities import SettingName
from jobs.fieldwork.asked import Item
from jobs.fieldwork.cautions import CAUTIONS, DEFERS
from jobs.fieldwork.dialling import residual_words, waited_words
from jobs.fieldwork.facts import Stage, Step, Timer
from jobs.fieldwork.keys import LineKey
from jobs.fieldwork.kinds import LineKind
from jobs.fieldwork.leaving import RECHECK_WORKING_DAYS
from jobs.fieldwork.panels.kinds import Panel
from jobs.fieldwork.panels.table import PANELS
from jobs.fieldwork.pump import head_of
from jobs.fieldwork.sheet import Sheet
from jobs.fieldwork.states import (
    ANSWERED,
    FAILED,
    LOOK_TWICE,
    OPEN,
    OVERRIDDEN,
    PASSED,
    SKIPPED,
    counts,
)
from jobs.mail.standing import lasting_of, standing_at
from jobs.models import ChecklistRecord, Company, Customer, FollowUp, Visit
from jobs.models.coming import coming_after
from jobs.models.company import company_day
from jobs.records.poured import poured_of, telling_said
from jobs.records.waits import taken_back
from jobs.schedule.hours import date_words, moment_words, zone_of
from jobs.schedule.working_days import add_working_days
from jobs.wording.figures import hour_of_day, household, sig, unit
from jobs.wording.names import person, setting_name
from jobs.wording.pump_settings import change_said, setting_said

STATE_WORDS = {
    OPEN: "open",
    ANSWERED: "",
    PASSED: "passed",
    FAILED: "not passed",
    SKIPPED: "left out",
    OVERRIDDEN: "passed over",
    LOOK_TWICE: "look twice",
}
#: the promises a customer wants to read about
NEXT_SHOWN = 6


def paper_of(record: ChecklistRecord, sheet: Sheet, *, visit: Visit | None) -> dict[str, object]:
    """Text only: JSON for the PDF, rows for the page."""
    company, made = Company.load(), record.closed_at or sheet.now
    customer = record.job.customer
    return {
        "title": record.template.title,
        "reference": f"record {record.pk}, job {record.job_id}",
        "date": _day(record, made),
        "site": f"{record.site.street}, {record.site.town}",
        "customer": customer.name if isinstance(customer, Customer) else "",
        "system": record.train.name if record.train else "",
        "lead": person(visit.lead) if visit else "",
        "visits": _visits(record),
        "company": company_lines(company),
        "notices": _notices(record),
        "equipment": [_part(number, stage) for number, stage in enumerate(sheet.stages, 1)],
        "blocks": [
            {"title": block.title, "rows": [_row(i, record) for i in block.items if _is_printed(i)]}
            for block in sheet.blocks
        ],
        "steps": [_step(step, head_of(sheet), record) for step in sheet.steps],
        "settings": settings_of(record),
        "computed": _computed(record, sheet),
        "told": [
            {"house": row.site, "said": telling_said(record, row)} for row in poured_of(record)
        ],
        "taken_back": taken_back(record),
        "versions": _versions(record),
        "next": _next(record, visit),
        "cautions": _cautions(sheet),
        "handed_over_to": record.handed_over_to,
        "defers": DEFERS,
        "remark": (
            "Figures hold for this day and these taps. < means: not found above the figure. "
            "Worked-out figures rest on the figures shown and on the strength on the label."
        ),
    }


def _versions(record: ChecklistRecord) -> list[str]:
    """What was corrected after the closing, the newest first."""
    rows = record.corrections.select_related("by").order_by("-version")
    return [
        f"Version {row.version}, {_day(record, row.at)}, replaces the one before. {row}. "
        f"Why: {row.reason.rstrip('.')}. {person(row.by)}."
        for row in rows
    ]


def _day(record: ChecklistRecord, moment: datetime) -> str:
    return moment_words(moment, zone_of(record.site))


def _notices(record: ChecklistRecord) -> list[dict[str, str]]:
    """What stood over the water as this was printed, and what may be done with it until lifted."""
    rows = []
    for notice in standing_at(record.site_id):
        said = lasting_of(notice, record.site_id)
        level = "twice" if notice.held_at(record.site_id) else "stop"
        text = " ".join(said.lines)
        rows.append({"title": said.head.rstrip("."), "text": text, "level": level})
    return rows


def _visits(record: ChecklistRecord) -> list[str]:
    visits = record.job.visits.select_related("lead", "helper").order_by("starts_at")
    lines = []
    for visit in visits:
        if visit.status == Visit.Status.CANCELLED:
            continue
        people = " and ".join(person(p) for p in (visit.lead, visit.helper) if p)
        lines.append(f"{date_words(company_day(visit.starts_at))}: {people}")
    return lines


def company_lines(company: Company) -> dict[str, str]:
    return {
        "name": company.name,
        "address": company.address,
        "phone": company.phone,
        "email": company.email,
        "licence": company.licence_note,
        "emergency": company.emergency_phone,
        "poison": company.poison_phone,
    }


def _part(number: int, stage: Stage) -> str:
    details = [
        entry.name
        for entry in (
            stage.feed_pump,
            stage.product,
            stage.retention_tank,
            stage.vessel,
            stage.medium,
            stage.resin,
        )
        if entry
    ]
    return f"{number}. {stage}" + (f": {', '.join(details)}" if details else "")


def _is_printed(item: Item) -> bool:
    """What was not asked for and not answered takes no room on paper."""
    return item.state != OPEN or item.line.required or item.line.is_gate


def _row(item: Item, record: ChecklistRecord) -> dict[str, str]:
    shown = waited(item.timer, record) if item.timer else _answered(item)
    note = item.sentence if item.state in (OVERRIDDEN, SKIPPED, FAILED) else ""
    deciding = item.deciding
    if deciding and deciding.warning and deciding.is_confirmed:
        note = (note + " Looked at twice and kept.").strip()
    return {"label": item.label, "answer": shown, "state": STATE_WORDS[item.state], "note": note}


def _answered(item: Item) -> str:
    """As left, and as found where the line asks for both."""
    shown, found = printed(item), printed(item, "found") if item.line.is_pair else ""
    if not found:
        return shown
    return f"found {found}" + (f", left {shown}" if shown else "")


def printed(item: Item, side: str | None = None) -> str:
    """An answer as customers read it: figures with commas, words as they were typed."""
    shown = item.shown if side is None else item.shown_of(side)
    if item.line.key == LineKey.WASH_HOUR and shown.isdigit():
        return hour_of_day(int(shown))
    if item.line.kind not in (LineKind.QUANTITY, LineKind.NUMBER):
        return shown
    figure, bracket, origin = shown.partition(" (")  # where it comes from ends with a year
    return household(figure) + bracket + origin


def waited(timer: Timer, record: ChecklistRecord) -> str:
    until = f"to {_day(record, timer.stopped_at)}, " if timer.stopped_at else ""
    needed = f"{timer.needed_minutes / 60:.3g} h needed"
    return f"from {_day(record, timer.started_at)}, {until}{needed}"


def left_until(record: ChecklistRecord, step: Step) -> date:
    """The last working day on which a setting that was left so is looked at again."""
    left = (step.read_at or step.set_at).astimezone(zone_of(record.site)).date()
    return add_working_days(left, RECHECK_WORKING_DAYS)


def _step(step: Step, head: str, record: ChecklistRecord) -> dict[str, str]:
    noted = step.noted
    if step.left_because:
        noted += f", by {date_words(left_until(record, step))}"
    return {
        "number": str(step.number),
        "setting": setting_said(step.setting, head),
        "waited": waited_words(step),
        "look": step.look_words,
        "residual": residual_words(step) or "not read",
        "state": _step_state(step),
        "noted": noted,
    }


def _step_state(step: Step) -> str:
    """One word or none; what is noted beside it says why."""
    if step.left_because or step.doubt:
        return ""
    if step.is_final:
        return "kept"
    return "" if counts(step) else "early, not used"


def settings_of(record: ChecklistRecord) -> list[dict[str, str]]:
    rows = (
        SettingChange.objects.standing()
        .filter(occasion=record.uuid)
        .select_related("stage__product", "stage__feed_pump")
        .order_by("stage__position", "pk")
    )
    return [_setting(row) for row in rows]


def _setting(row: SettingChange) -> dict[str, str]:
    both = change_said(row)
    old, new = both or (_set_to(row, row.old_value), row.new_text or _set_to(row, row.new_value))
    return {
        "part": row.part,
        "setting": row.name,
        "name": setting_name(row.name),
        "old": "" if old == new else old,
        "new": f"{new}, as it was" if old == new else new,
    }


def _set_to(row: SettingChange, value: float | None) -> str:
    if value is None:
        return ""
    if row.name == SettingName.WASH_HOUR:
        return hour_of_day(value)
    return household(f"{value:g} {unit(row.unit)}".strip())


#: figures of the dial-back, which is no panel: result key and label
DIAL_IN_FIGURES = (
    ("next_setting", "Setting advised"),
    ("expected_residual", "Residual to expect after the contact tank"),
    ("demand", "Demand of this water"),
)


def _computed(record: ChecklistRecord, sheet: Sheet) -> list[dict[str, object]]:
    """Stored figures that are meant for paper, each with its own label and part.

    The plan of the system is for the office.
    """
    parts = {f"stage-{stage.pk}": str(stage) for stage in sheet.stages}
    own = StoredAssessment.objects.standing().filter(occasion=record.uuid)
    stored = own.exclude(name="train-plan")
    shown: list[dict[str, object]] = []
    for row in stored.order_by("pk"):
        panel = PANELS.get(row.name)
        figures = _labelled(panel, row.results)
        if figures and (panel is None or panel.is_printed):
            part = parts.get(row.line_key, "") if panel else ""
            shown.append({"part": part, "figures": figures, "method": row.method_version})
    return shown


def _labelled(panel: Panel | None, results: Mapping[str, Json]) -> list[dict[str, str]]:
    """The answer first, as the page calls it, then the figures under it."""
    labels: tuple[tuple[str, str], ...] = DIAL_IN_FIGURES
    if panel:
        answer = next((k for k in (panel.answer, *panel.or_else) if k in results), panel.answer)
        under = ((key, f"{panel.title}: {label.lower()}") for key, label in panel.rows)
        labels = ((answer, panel.title), *under)
    return [
        {"label": label, "result": _figure(results[key])} for key, label in labels if key in results
    ]


def _figure(result: Json) -> str:
    if "low" in result:
        return household(f"{sig(result['low'])} to {sig(result['high'])} {unit(result['unit'])}")
    value = result["value"]
    text = sig(value) if isinstance(value, float) else str(value)
    return household(f"{text} {unit(result['unit'])}".strip())


def _next(record: ChecklistRecord, visit: Visit | None) -> list[dict[str, str]]:
    coming = coming_after(visit, site=record.site_id)[:NEXT_SHOWN]
    return [{"when": f"about {date_words(row.due_on)}", "what": _what(row)} for row in coming]


def _what(promise: FollowUp) -> str:
    return f"{promise.terms.name}: {promise.stage}" if promise.stage else promise.terms.name


def _cautions(sheet: Sheet) -> list[dict[str, str]]:
    keys = {key for block in sheet.blocks for key in sheet.cautions_of(block)}
    read = sheet.acknowledged()
    return [
        {
            "title": caution.title,
            "text": caution.text,
            "read": f"read by {read[key].by}" if key in read else "",
        }
        for key, caution in CAUTIONS.items()
        if key in keys or key in read
    ]
