"""The customer's record: two pages that say what stands, what was measured and what to mind.

Never a verdict on the water: what was measured, by which kit, on which day, at which tap. Every
sentence is made from the rows of the record; what nobody recorded is left out or said to be so.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from equipment.engineering.names import PartKind, Side
from equipment.models import Measurement, Sample, Well
from equipment.quantities import MEASURED, PlaceName
from jobs.fieldwork.asked import Item
from jobs.fieldwork.cautions import DEFERS
from jobs.fieldwork.facts import Stage
from jobs.fieldwork.kinds import Purpose
from jobs.fieldwork.sheet import Sheet
from jobs.mail.standing import lasting_of, standing_at
from jobs.mail.words import PURPOSES
from jobs.models import ChecklistRecord, Company, Customer, DoNotUse, Job, Photo, Visit
from jobs.models.coming import coming_after
from jobs.schedule.hours import date_words
from jobs.wording.names import capital, person, sentence

from .how_left import at_of, cautions, day_of, disinfection, facts, left_open, settings
from .paper import NEXT_SHOWN, company_lines, left_until
from .waits import taken_back
from .water_lines import figure, lead, limits, units_of, water_lines

TITLES: dict[str, str] = {
    Purpose.STARTUP: "What was installed and measured",
    Purpose.RECHECK: "What was measured again, and how it was left",
    Purpose.DISINFECT: "How the well and the pipes were disinfected",
    Purpose.SURVEY: "What was found at your well",
}
NOT_TESTED = ("arsenic", "lead", "copper", "nitrate", "radon", "uranium", "PFAS", "pesticides")
EVERY_YEAR = (
    "Have nitrate and bacteria tested every year by a laboratory; ask your county which others are "
    "worth it at your place."
)
REMARK = (
    "This record says what was measured, where and when. It is no statement about anything that "
    "was not measured, and does not replace a laboratory test."
)
#: what the drawing of a part looks like
DRAWN = {
    PartKind.FEEDER: "feeder",
    PartKind.RETENTION: "retention",
    PartKind.FILTER: "bed",
    PartKind.NEUTRALIZER: "bed",
    PartKind.SOFTENER: "softener",
}


def customer_paper(
    record: ChecklistRecord,
    sheet: Sheet,
    *,
    visit: Visit | None,
    photos: Sequence[tuple[Photo, bytes]] = (),
) -> dict[str, object]:
    """Text only, for the PDF."""
    made = record.closed_at or sheet.now
    customer = record.job.customer
    return {
        "title": TITLES[record.template.purpose],
        "site": f"{record.site.street}, {record.site.town}",
        "reference": f"Record {record.pk}, {record.template.title.lower()}, {day_of(record, made)}",
        "for": customer.name if isinstance(customer, Customer) else "",
        "visits": _visits(record),
        "company": company_lines(Company.load()),
        "versions": _versions(record),
        "lead": _lead(record, sheet, made),
        "standing": _standing(record),
        "system": _system(record, sheet),
        "water": water_lines(sheet),
        "bacteria": bacteria(record, sheet),
        "not_tested": _not_tested(record),
        "next": _next(record, sheet, visit),
        "settings": settings(record, sheet),
        "disinfection": disinfection(record, sheet),
        "facts": facts(record, sheet),
        "photos": [{"file": f"/{photo.pk}.jpg", "caption": photo.caption} for photo, _ in photos],
        "open": left_open(sheet) + [sentence(said) for said in taken_back(record)],
        "cautions": cautions(sheet),
        "handed": _handed(record),
        "remark": REMARK,
        "defers": DEFERS,
    }


def _visits(record: ChecklistRecord) -> list[str]:
    rows = record.job.visits.exclude(status=Visit.Status.CANCELLED)
    lines = []
    for row in rows.select_related("lead", "helper").order_by("starts_at"):
        people = " and ".join(person(each) for each in (row.lead, row.helper) if each)
        lines.append(f"{day_of(record, row.starts_at)}: {people}")
    return lines


def _versions(record: ChecklistRecord) -> list[str]:
    rows = record.corrections.select_related("by").order_by("-version")
    return [
        f"Version {row.version}, {at_of(record, row.at)}, replaces the one before. {row}. "
        f"Why: {sentence(row.reason)} {person(row.by)}."
        for row in rows
    ]


# --- sheet 1 ------------------------------------------------------------------------------------


def _lead(record: ChecklistRecord, sheet: Sheet, made: datetime) -> list[str]:
    """By which means, on which day, at which tap, before any figure."""
    read = [item.deciding.read_at for item in _taps(sheet) if item.deciding and item.text]
    days = list(dict.fromkeys(day_of(record, moment) for moment in sorted(read)))
    said = lead(sheet)
    if said:
        when = days[0] if len(days) == 1 else f"{days[0]} to {days[-1]}"
        return [f"By field kit, {when}, at the kitchen tap, cold.", *said]
    if any(row.line.place == PlaceName.RAW and row.text for row in sheet.items):
        return [f"By field kit, {day_of(record, made)}, at the raw tap, before any treatment."]
    return []


def _taps(sheet: Sheet) -> list[Item]:
    return [item for item in sheet.items if item.line.place == PlaceName.TAP]


def _standing(record: ChecklistRecord) -> list[dict[str, object]]:
    return [
        {"head": said.head, "lines": said.lines, "level": _level(row)}
        for row in standing_at(record.site_id)
        for said in (lasting_of(row, record.site_id),)
    ]


def _level(notice: DoNotUse) -> str:
    return "stop" if notice.level == DoNotUse.Level.NO_USE else "twice"


def _system(record: ChecklistRecord, sheet: Sheet) -> list[dict[str, object]]:
    """Every part from the well to the kitchen tap, each with what was read there."""
    if not sheet.stages:
        return []
    parts = [_part(record, sheet, stage) for stage in sheet.stages]
    parts.insert(_tank_place(record, sheet), _place("tank", "Pressure tank", what=_tank(sheet)))
    raw = _readings(sheet, PlaceName.RAW)
    well = _place("well", "Well", what=_well(sheet), tap="raw tap", readings=raw)
    kitchen = _place("tap", "Kitchen tap", tap="cold", readings=_readings(sheet, PlaceName.TAP))
    return [well, *parts, kitchen]


def _place(kind: str, name: str, **more: object) -> dict[str, object]:
    return {"kind": kind, "name": name, "what": "", "tap": "", "readings": [], **more}


def _well(sheet: Sheet) -> str:
    depth, flow = sheet.newest("total_depth"), sheet.newest("pump_flow")
    told = [f"{depth:g} ft deep" if depth else "", f"well pump gives {flow:g} gpm" if flow else ""]
    return ", ".join(filter(None, told))


def _tank(sheet: Sheet) -> str:
    low, high = sheet.newest("cut_in"), sheet.newest("cut_out")
    return f"{low:g} to {high:g} psi" if low and high else ""


def _part(record: ChecklistRecord, sheet: Sheet, stage: Stage) -> dict[str, object]:
    name = str(stage)
    kind = DRAWN.get(PartKind(stage.kind), "box")
    taken = _readings(sheet, PlaceName.AFTER_RETENTION) if stage.kind == PartKind.RETENTION else []
    return _place(
        kind,
        capital(name),
        what=_what(stage),
        tap="after it" if taken else "",
        readings=taken,
    )


def _what(stage: Stage) -> str:
    told = []
    if stage.product:
        percent = f"{stage.product.label_strength_percent:g} %"
        told.append(f"{stage.product.oxidant}, {percent} on its container")
    if stage.retention_tank:
        told.append(f"{stage.retention_tank.volume_gal:g} gal")
    told += [entry.name for entry in (stage.medium, stage.resin) if entry]
    if stage.parallel_count > 1:
        told.append(f"{stage.parallel_count} side by side")
    return ", ".join(told)


def _tank_place(record: ChecklistRecord, sheet: Sheet) -> int:
    """Behind the parts that the water meets before the pressure tank."""
    train = record.train
    before: set[str] = set()
    if train and train.injection == Side.BEFORE:
        before = {PartKind.FEEDER}
        if train.retention_side == Side.BEFORE:
            before.add(PartKind.RETENTION)
    places = [place for place, part in enumerate(sheet.stages, 1) if part.kind in before]
    return max(places, default=0)


def _readings(sheet: Sheet, place: str) -> list[str]:
    """What was read at a tap, as it is called there."""
    rows, known = [], limits(sheet)
    for item in sheet.items:
        if item.line.place != place or item.line.quantity_key not in known or not figure(item):
            continue
        kind = MEASURED[item.line.quantity_key]
        name = kind.label.split(",")[0]
        name = name if kind.key == "ph" else name.lower()
        rows.append(f"{name} {figure(item)} {units_of(kind.key)}".strip())
    return rows[:5]


def bacteria(record: ChecklistRecord, sheet: Sheet) -> str:
    """What is known and awaited of bacteria, from the bottles of this water."""
    well = Well.objects.only_one_at(record.site)
    rows = Sample.objects.of_water(record.site, well).filter(kind=Sample.Kind.BACTERIA)
    newest = rows.select_related("place_stage").order_by("taken_at", "pk").last()
    notice = DoNotUse.objects.standing().at_site(record.site)
    awaited = notice.filter(level=DoNotUse.Level.SAMPLE_PENDING).order_by("opened_at").last()
    if newest is None or (awaited and newest.taken_at < awaited.opened_at):
        to_come = "The sample after the disinfection has not been taken yet."
        return to_come if awaited else "Bacteria: no sample is on file with us."
    bottle = f"Bacteria sample of {day_of(record, newest.taken_at)}, {newest.tap}"
    by = f", {newest.laboratory}" if newest.laboratory else ""
    if newest.outcome == Sample.Outcome.WAITING:
        return f"{bottle}{by}: the result is still to come."
    said = "none found" if newest.outcome == Sample.Outcome.NEGATIVE else _outcome(newest)
    return f"{bottle}{by}: {said}."


def _outcome(sample: Sample) -> str:
    return str(sample.get_outcome_display())


def _not_tested(record: ChecklistRecord) -> str:
    """What no laboratory has read for this house; the rest is named."""
    keys = [name for name in NOT_TESTED if name in MEASURED]
    read = set(
        Measurement.objects.standing()
        .filter(sample__site=record.site, quantity_key__in=keys)
        .values_list("quantity_key", flat=True)
    )
    names = [name for name in NOT_TESTED if name not in read]
    listed = f"{', '.join(names[:-1])} and {names[-1]}"
    return f"{capital(listed)}. Nothing here says anything about them. {EVERY_YEAR}"


def _next(record: ChecklistRecord, sheet: Sheet, visit: Visit | None) -> list[dict[str, str]]:
    """When we come again and for what; two parts that are due together are one coming.

    A setting that was left so is looked at again before its usual day.
    """
    final, looks = sheet.final_step, Job.Kind.RECHECK
    left = left_until(record, final) if final and final.left_because else None
    coming = coming_after(visit, site=record.site_id)
    rows = [(f"by {date_words(left)}", PURPOSES[looks])] if left else []
    rows += [
        (f"about {date_words(row.due_on)}", PURPOSES[row.terms.job_kind])
        for row in coming
        if not (left and row.terms.job_kind == looks)
    ]
    return [{"when": when, "what": what} for when, what in dict.fromkeys(rows)][:NEXT_SHOWN]


def _handed(record: ChecklistRecord) -> str:
    if not record.handed_over_to:
        return "Not handed over to anybody."
    when = f", {at_of(record, record.closed_at)}" if record.closed_at else ""
    return f"Handed over to {record.handed_over_to}{when}."
