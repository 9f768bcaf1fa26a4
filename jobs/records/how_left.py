"""How a system was left, for its household: settings, chlorine, what was told, what to mind."""

from __future__ import annotations

from datetime import datetime

from equipment.models import Site
from equipment.quantities import SettingName
from jobs.fieldwork import hazards
from jobs.fieldwork.asked import Item
from jobs.fieldwork.dialling import residual_words
from jobs.fieldwork.gates import wait_ended
from jobs.fieldwork.keys import DISINFECTS, DONE_HERE, LineKey
from jobs.fieldwork.sheet import Sheet
from jobs.fieldwork.states import OVERRIDDEN, SKIPPED
from jobs.models import ChecklistRecord
from jobs.schedule.hours import date_words, moment_words, zone_of
from jobs.wording.figures import sig
from jobs.wording.names import capital, sentence, setting_name, setting_of

from .paper import left_until, printed, settings_of
from .poured import poured_of, telling_said

#: facts that only a technician can say, each with its words
TOLD: tuple[tuple[str, str], ...] = (
    (LineKey.KITS, "Test kits"),
    (LineKey.SHUT_OFFS, "Shut-offs"),
    (LineKey.WARRANTY, "Warranty"),
)


PUMP_SETTING = setting_name(SettingName.OUTPUT)
LEFT = "Dosing pump: left for a recheck"


def day_of(record: ChecklistRecord, moment: datetime) -> str:
    return date_words(moment.astimezone(zone_of(record.site)).date())


def at_of(record: ChecklistRecord, moment: datetime) -> str:
    return moment_words(moment, zone_of(record.site))


def settings(record: ChecklistRecord, sheet: Sheet) -> list[dict[str, str]]:
    """How each part was left, from the settings this record wrote."""
    rows = [
        {
            "name": setting_of(row["part"], row["setting"]),
            "value": row["new"],
            "note": _measured_feed(sheet) if row["setting"] == SettingName.OUTPUT else "",
        }
        for row in settings_of(record)
    ]
    kept = sheet.item(LineKey.PUMP_SETTING)
    if kept and kept.text and not any(row["name"].lower().endswith(PUMP_SETTING) for row in rows):
        value = f"{printed(kept)}, as it was"
        rows.insert(0, {"name": "Dosing pump setting", "value": value, "note": ""})
    pump = (at for at, row in enumerate(rows, 1) if row["name"].lower().endswith(PUMP_SETTING))
    behind = next(pump, 0)
    rows[behind:behind] = _dialled(record, sheet)
    bypass = sheet.item(LineKey.BYPASS_LEFT)
    if bypass and bypass.text:
        words = {
            "service": "SERVICE (treated)",
            "bypassed": "BYPASS (untreated, unplug the dosing pump)",
        }
        value = words.get(bypass.text, bypass.shown)
        rows.append({"name": "Bypass of the tanks", "value": value, "note": ""})
    return rows


def _dialled(record: ChecklistRecord, sheet: Sheet) -> list[dict[str, str]]:
    """What was read at the setting that stays, by which strips; and by when we look again."""
    final = sheet.final_step
    if final is None:
        return []
    rows = []
    read = [s for s in sheet.steps if residual_words(s) and s.setting == final.setting]
    read = read or [s for s in sheet.steps if s.doubt]
    if read and read[-1].read_at:
        last, when = read[-1], day_of(record, read[-1].read_at)
        said = [last.strips, f"not used: {last.doubt}" if last.doubt else "", when]
        rows.append(
            {
                "name": f"{capital(sheet.oxidant)} after the contact tank, at that setting",
                "value": f"{residual_words(last)} mg/L",
                "note": ", ".join(filter(None, said)),
            }
        )
    if final.left_because:
        day = left_until(record, final)
        rows.append({"name": LEFT, "value": f"by {date_words(day)}", "note": final.left_because})
    return rows


def _measured_feed(sheet: Sheet) -> str:
    drawn, seconds = sheet.value(LineKey.FEED_DRAWN), sheet.value(LineKey.FEED_TIME)
    if not drawn or not seconds:
        return ""
    return f"{sig(drawn / seconds * 60, 2)} mL a minute, drawn from a cylinder"


def disinfection(record: ChecklistRecord, sheet: Sheet) -> list[str]:
    scope = sheet.item(LineKey.DISINFECT_SCOPE)
    if scope is None or not scope.text:
        return []
    why = sheet.text(LineKey.DISINFECT_WHY)
    if scope.text != DONE_HERE:
        return [sentence(f"{scope.shown}: {why}" if why else scope.shown)]
    done = (_told(record), _contact(record, sheet), _amount(sheet), _flushed(sheet))
    return [said for said in (*done, _what_follows(sheet)) if said]


def _told(record: ChecklistRecord) -> str:
    """Who was told here, and whether they know it next door, before the chlorine went in."""
    rows = poured_of(record)
    own = [telling_said(record, row) for row in rows if row.house == record.site_id]
    others = [row.is_told for row in rows if row.house != record.site_id]
    if others:
        houses = "the other house" if len(others) == 1 else f"{len(others)} other houses"
        told = "told" if all(others) else f"{sum(others)} told" if any(others) else "not told"
        own.append(f"{houses} on this well: {told}")
    return f"Before the chlorine went in: {'; '.join(own)}." if own else ""


def _contact(record: ChecklistRecord, sheet: Sheet) -> str:
    item = sheet.item(LineKey.CONTACT)
    timer = item.timer if item else None
    if item is None or timer is None:
        return ""
    began, over = at_of(record, timer.started_at), wait_ended(sheet, timer)
    until = f" until {at_of(record, over)}" if over else ""
    needed = f"{timer.needed_minutes / 60:.3g} h needed"
    if not sheet.against(item):
        return f"Chlorine stood in it from {began}{until}; {needed}."
    if over is None:
        return f"Chlorine stood in it from {began}, {needed}; when it was flushed out is not noted."
    lasted = f"{(over - timer.started_at).total_seconds() / 3600:.1f} h"
    return f"Too short: chlorine stood in it from {began}{until}, {lasted} of the {needed}."


def _amount(sheet: Sheet) -> str:
    poured, product = sheet.text(LineKey.CHLORINE_POURED), sheet.item(LineKey.CHLORINE_PRODUCT)
    said = [f"{poured} of {product.shown}"] if poured and product else []
    if mixed := _answered(sheet, LineKey.CHLORINE_MIXED):
        aim = sheet.company["shock_target_mg_l"]
        weak = f", too weak: {aim:g} mg/L at least is asked for" if sheet.against(mixed) else ""
        said.append(f"{printed(mixed)} at the hose{weak}")
    left = _answered(sheet, LineKey.CHLORINE_LEFT)
    if left and left.value is not None and left.value < (left.line.warn_min or 0):
        said.append(f"{printed(left)} left at the end, less than {left.line.warn_min:g} mg/L")
    return sentence("; ".join(said))


def _what_follows(sheet: Sheet) -> str:
    """Chlorine that was too weak or worked for too short is no disinfection."""
    items = [sheet.item(key) for key in DISINFECTS]
    if not any(item and sheet.against(item) for item in items):
        return ""
    return (
        "This does not count as a disinfection: the well is disinfected again, and a bacteria "
        "sample is taken after that. Until it is negative and we have told you so, do not drink "
        "the water."
    )


def _flushed(sheet: Sheet) -> str:
    """The readings after flushing, and where that water went."""
    places = (
        (LineKey.FLUSH_HIGH, "high-range strip"),
        (LineKey.FLUSH_LOW, "low-range reading"),
        (LineKey.FLUSH_HOT, "hot tap"),
    )
    read = [f"{words} {printed(item)}" for key, words in places if (item := _answered(sheet, key))]
    if not read:
        return ""
    where = _answered(sheet, LineKey.FLUSH_PLACE)
    went = f" The water went: {where.shown}." if where else ""
    return f"Flushed, chlorine at the farthest tap: {', '.join(read)}.{went}"


def _answered(sheet: Sheet, key: str) -> Item | None:
    item = sheet.item(key)
    return item if item and item.text else None


def facts(record: ChecklistRecord, sheet: Sheet) -> list[dict[str, str]]:
    """What the technician told besides; the kits are named also where nobody did."""
    rows = []
    for key, words in TOLD:
        item = sheet.item(key)
        if item is None:
            continue
        strips = dict.fromkeys(s.strips for s in sheet.steps if s.strips and key == LineKey.KITS)
        if said := "; ".join(filter(None, (item.text, *strips))):
            rows.append({"name": words, "value": sentence(said)})
        elif key == LineKey.KITS:
            rows.append({"name": words, "value": "Name and expiry were not noted."})
    if record.site.drain != Site.Drain.UNKNOWN and sheet.has("washing"):
        drain = str(record.site.get_drain_display())
        rows.append({"name": "Backwash water goes to", "value": sentence(drain)})
    return rows


def left_open(sheet: Sheet) -> list[str]:
    """Lines that were left out or passed over, each with its reason and who said so."""
    return [
        f"{item.label}: {'passed over' if item.state == OVERRIDDEN else 'left out'}. "
        f"{sentence(item.sentence)}"
        for item in sheet.items
        if item.state in (OVERRIDDEN, SKIPPED)
    ]


def cautions(sheet: Sheet) -> list[dict[str, str]]:
    """For whoever lives with it, the gravest first."""
    feeder = sheet.feeder
    rows = []
    if feeder and feeder.product:
        rows.append(_caution("stop", "Stop:", hazards.ODD_WATER))
        twice = (*hazards.BYPASS, *hazards.APART[feeder.product.oxidant], hazards.ODD_TANK)
        rows.append(_caution("twice", "Look twice:", " ".join(twice)))
    know = [words for subject, words in hazards.KNOW if sheet.has(subject)]
    if know:
        rows.append(_caution("note", "Know:", " ".join(know)))
    return rows


def _caution(level: str, title: str, text: str) -> dict[str, str]:
    return {"level": level, "title": title, "text": text}
