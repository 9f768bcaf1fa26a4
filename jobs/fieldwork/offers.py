"""Figures that a record holds already, offered where they are asked again.

One press puts a figure into its box, as if it had been typed there. A reading that is offered was
taken on the visit that is on, and says where and when: an older one stands on file and is no
reading of today. What is no reading is offered from wherever it stands (`standing.py`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from datetime import datetime

from equipment.engineering.spans import band_typed
from equipment.quantities import MEASURED
from jobs.wording.figures import THIN, unit
from jobs.wording.pump_settings import setting_said

from .asked import Item
from .facts import Record, Step
from .glass import Offer
from .keys import LineKey
from .kinds import LineKind
from .pump import FIGURE_LINES, figures_of, head_of
from .sheet import Sheet
from .standing import STANDS
from .states import counts
from .together import RINSED, SANITISED, is_pump, of_bypasses, of_filling, of_sanitising


def are_figures_offered(record: Record, *, writes: bool) -> bool:
    """A closed record stands as it was, and who only reads types nothing: nothing is offered."""
    return writes and not record.is_closed


def offers_for(sheet: Sheet, item: Item, *, writes: bool = True) -> tuple[Offer, ...]:
    """What is offered at a line whose box is empty, each figure once."""
    if not are_figures_offered(sheet.record, writes=writes) or item.text:
        return ()
    began = sheet.record.visit_began_at
    key = next((key for key in (*FOUND_AT, *STANDS) if key == item.line.key), None)
    finders = [places[key] for places in (FOUND_AT, STANDS) if key and key in places]
    found = [
        offer
        for find in finders
        for offer in find(sheet, item)
        if began is None or offer.at is None or offer.at >= began
    ]
    return tuple({offer.puts: offer for offer in reversed(found)}.values())[::-1]


def _tap_flow(sheet: Sheet, item: Item) -> Iterator[Offer]:
    """The tap that runs at a step, else the bucket under it while the well pump was measured."""
    for step in reversed(sheet.steps):
        if step.tap_flow_gpm:
            text = f"{step.tap_flow_gpm:g}"
            put = (item.box(), text, "gpm")
            yield Offer(f"{text} gpm", f"running tap of step {step.number}", (put,), at=step.set_at)
            break
    read = sheet.item(LineKey.PUMP_FLOW)
    if read and read.deciding and read.text:
        name = read.deciding.unit or MEASURED[read.line.quantity_key].unit
        put = (item.box(), read.text, name)
        yield Offer(read.shown, _decapitalised(read.label), (put,), at=read.deciding.read_at)


def _drawn(sheet: Sheet, item: Item) -> Iterator[Offer]:
    """What was drawn in a minute when the kept step was set: volume and time go in together."""
    step, time = sheet.final_step, sheet.item(LineKey.FEED_TIME, item.stage)
    if step is None or not step.drawdown_ml_min or time is None:
        return
    drawn = f"{step.drawdown_ml_min:g}"
    puts = ((item.box(), drawn, "mL"), (time.box(), "60", "s"))
    said = f"{drawn} mL in 60 s"
    yield Offer(said, f"draw-down of step {step.number}", puts, at=step.set_at)


def _kept_setting(sheet: Sheet, item: Item) -> Iterator[Offer]:
    """As left: what the kept step was set to, all figures of the pump together."""
    step = sheet.final_step
    if step is None or item.line.key != FIGURE_LINES[figures_of(sheet)[0]]:
        return
    puts = []
    for name in figures_of(sheet):
        line, value = sheet.item(FIGURE_LINES[name]), step.setting.figure(name)
        if line is None or value is None:
            return
        puts.append((line.box("left"), f"{value:g}", MEASURED[line.line.quantity_key].unit))
    said = setting_said(step.setting, head_of(sheet))
    yield Offer(said, f"step {step.number}, which stays", tuple(puts), "left", step.set_at)


def _until_clear(sheet: Sheet, item: Item) -> Iterator[Offer]:
    """Washes until the jar was clear, each as long as the controller runs it."""
    runs = next((i for i in sheet.items if _counts_runs(i) and i.stage == item.stage), None)
    if runs is None or not runs.deciding or runs.text.split()[-1:] != [CLEAR_JAR]:
        return
    yield from _washed(sheet, item, len(runs.cycles), at=runs.deciding.read_at)


def _washed(sheet: Sheet, item: Item, number: int, at: datetime | None = None) -> Iterator[Offer]:
    """So many washes, the last one clear, in the box for the minutes of them."""
    minutes = sheet.item(LineKey.WASH_MINUTES, item.stage)
    if minutes is None or minutes.value is None:
        return
    text = f"{number * minutes.value:g}"
    said = f"{number} {'wash' if number == 1 else 'washes'} of {minutes.value:g} min, the jar clear"
    yield Offer(f"{text} min", said, ((item.box(), text, "min"),), at=at)


def with_clear(sheet: Sheet, runs: Item) -> Offer | None:
    """What the press says besides by which a jar is clear: the minutes until then."""
    asked = sheet.item(LineKey.CLEAR_MINUTES, runs.stage) if _counts_runs(runs) else None
    if asked is None or asked.text:
        return None
    return next(_washed(sheet, asked, len(runs.cycles) + 1), None)


#: how a cycle ended whose jar was clear
CLEAR_JAR = "clear"


def _counts_runs(item: Item) -> bool:
    return item.line.kind == LineKind.CYCLES


def _residual(sheet: Sheet, item: Item) -> Iterator[Offer]:
    """Read after the retention tank at the kept step: the same tap, the same water."""
    step = sheet.final_step
    if step is None or not counts(step) or step.residual_low_mg_l is None:
        return
    text = span_typed(step)
    put = (item.box(), text, "mg/L")
    said = f"{text.replace('>', f'>{THIN}')} {unit('mg/L')}"
    yield Offer(said, f"reading of step {step.number}, which stays", (put,), at=step.read_at)


def span_typed(step: Step) -> str:
    """The residual of a step as it is typed into a box, "" where nothing was read."""
    low, high = step.residual_low_mg_l, step.residual_high_mg_l
    if low is None:
        return ""
    return f"{low:g}" if low == high else band_typed(low, math.inf if high is None else high)


def _decapitalised(label: str) -> str:
    return label[:1].lower() + label[1:]


def _told_before(sheet: Sheet, item: Item) -> Iterator[Offer]:
    """Who was told before the chlorine went in is mostly who the work is handed over to."""
    for row in sheet.facts.beside.poured:
        if row.is_told and row.house in (0, sheet.record.site):
            put = (item.box(), row.whom, "")
            yield Offer(row.whom, "told before the pouring", (put,), at=row.at)


def _as_at_another(sheet: Sheet, item: Item) -> Iterator[Offer]:
    """Words that were written at another part on this page."""
    for other in sheet.items:
        if other.line.key == item.line.key and other.deciding and other.text:
            put, at = (item.box(), other.text, ""), other.deciding.read_at
            yield Offer(f"“{other.text}”", f"as at {other.stage}", (put,), at=at)


def _sanitised(sheet: Sheet, item: Item) -> Iterator[Offer]:
    yield from of_sanitising(sheet, item)
    if not is_pump(item):
        yield from _as_at_another(sheet, item)
    for words in (RINSED,) if is_pump(item) else SANITISED:
        yield Offer(f"“{words}”", "often", ((item.box(), words, ""),))


#: which lines are offered a figure, and where it is looked for
FOUND_AT: dict[LineKey, Callable[[Sheet, Item], Iterator[Offer]]] = {
    LineKey.TAP_FLOW: _tap_flow,
    LineKey.FEED_DRAWN: _drawn,
    LineKey.CLEAR_MINUTES: _until_clear,
    LineKey.PEROXIDE_RETENTION: _residual,
    LineKey.CHLORINE_RETENTION: _residual,
    LineKey.HANDOVER_NAME: _told_before,
    LineKey.SANITISED: _sanitised,
    LineKey.BYPASS_LIST: of_bypasses,
    LineKey.TANK_CRACKED: of_filling,
    **dict.fromkeys(FIGURE_LINES.values(), _kept_setting),
}
