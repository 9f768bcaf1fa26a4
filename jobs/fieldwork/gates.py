"""Which lines apply to this system, and whether an answer passes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from equipment.engineering.oxidant.demand_fit import SETTLED_TURNOVERS
from equipment.quantities import MEASURED
from jobs.models import ChecklistLine, DialStep

if TYPE_CHECKING:
    from .sheet import Item, Sheet

#: states of a line
OPEN, ANSWERED, PASSED, FAILED = "open", "answered", "passed", "failed"
SKIPPED, OVERRIDDEN, LOOK_TWICE = "skipped", "overridden", "look-twice"
#: readings after fewer turnovers are early and prove nothing
TURNOVERS_NEEDED = SETTLED_TURNOVERS


def applies(sheet: Sheet, item: Item) -> bool:
    return _holds(sheet, item, item.line.condition)


def _holds(sheet: Sheet, item: Item, condition: dict[str, Any]) -> bool:
    """One condition: the keys of CONDITIONS, all of them."""
    return all(CONDITIONS[word](sheet, item, condition) for word in CONDITIONS if word in condition)


def _other_line(sheet: Sheet, item: Item, condition: dict[str, Any]) -> bool:
    texts = [other.text for other in sheet.items if other.line.key == condition["line"]]
    return any(text in condition["one_of"] for text in texts)


def _same_part(sheet: Sheet, item: Item, condition: dict[str, Any]) -> bool:
    other = sheet.item(condition["answer"], item.stage)
    return other is not None and other.text in condition["one_of"]


CONDITIONS: dict[str, Callable[[Any, Any, dict[str, Any]], bool]] = {
    "has": lambda sheet, item, c: sheet.has(c["has"]),
    "lacks": lambda sheet, item, c: not sheet.has(c["lacks"]),
    "oxidant": lambda sheet, item, c: sheet.oxidant == c["oxidant"],
    "line": _other_line,
    "answer": _same_part,
    "all": lambda sheet, item, c: all(_holds(sheet, item, part) for part in c["all"]),
}


def judge(sheet: Sheet, item: Item) -> tuple[str, str]:
    """State of a line and one sentence about it."""
    answer = item.deciding
    if item.timer and _is_running(sheet, item) and not item.override:
        return OPEN, _left(sheet, item)
    if item.line.kind == ChecklistLine.Kind.STEPS and not sheet.final_step and not item.override:
        words = "no step has been kept as the final setting." if sheet.steps else "no step yet."
        return OPEN, words
    verdict = _verdict(sheet, item)
    unchecked = next(
        (a for a in item.answers.values() if a.text and a.warning and not a.warning_confirmed_at),
        None,
    )
    if verdict is True and not unchecked:
        return PASSED, ""
    if item.override:
        return OVERRIDDEN, f"{item.override.reason} ({_name(item.override.by)})"
    if unchecked and verdict is not False:
        return LOOK_TWICE, unchecked.warning
    if isinstance(verdict, str):
        return FAILED, verdict
    if answer and answer.skip_reason and not answer.text:
        if item.line.is_gate:
            return OPEN, f"not answered ({answer.skip_reason}); it must pass or be overridden."
        return SKIPPED, f"{answer.skip_reason} ({_name(answer.by)})"
    if answer and answer.text:
        return ANSWERED, ""
    return OPEN, "not answered yet."


def _name(person: Any) -> str:
    return str(person.get_full_name() or person.get_username())


def _verdict(sheet: Sheet, item: Item) -> bool | str | None:
    """True: passed. A sentence: failed. None: not a gate, or nothing to judge yet."""
    line = item.line
    if line.is_gate and "no_notice" in line.passes:
        return _no_notice(sheet, item, line.passes["no_notice"])
    if line.kind == ChecklistLine.Kind.TIMER:
        return _timer(sheet, item)
    if line.kind == ChecklistLine.Kind.STEPS:
        return _final_step(sheet) if line.is_gate or sheet.steps else None
    if not line.is_gate or item.read() is None:
        return None
    for word, rule in RULES.items():
        if word in line.passes:
            sentence = rule(sheet, item, line.passes[word])
            if sentence:
                return sentence
    return True


def _limit(sheet: Sheet, item: Item, given: Any) -> tuple[float | None, str]:
    """A limit as a number and where it comes from."""
    if isinstance(given, int | float):
        return float(given), ""
    source, _, name = str(given).partition(".")
    if source == "company":
        return float(getattr(sheet.company, name)), "company value"
    from jobs.fieldwork.panels.run import expected

    return expected(sheet, given.removeprefix("result:"), item), "worked out for this water"


def _unit(item: Item) -> str:
    key = item.line.quantity_key
    return f" {MEASURED[key].unit}" if key and MEASURED[key].unit else ""


def _say(item: Item, words: str, limit: float, origin: str) -> str:
    why = f", {origin}" if origin else ""
    return f"must be {words} {limit:.3g}{_unit(item)}{why}; {item.shown} is not."


def _at_most(sheet: Sheet, item: Item, given: Any) -> str:
    limit, origin = _limit(sheet, item, given)
    read = item.read()
    if limit is None or read is None or read.value is None:
        return ""
    good = read.value <= limit and read.comparator != ">"
    return "" if good else _say(item, "at most", limit, origin)


def _below(sheet: Sheet, item: Item, given: Any) -> str:
    limit, origin = _limit(sheet, item, given)
    read = item.read()
    if limit is None or read is None or read.value is None:
        return ""
    good = read.comparator != ">" and (
        read.value < limit or (read.comparator == "<" and read.value <= limit)
    )
    return "" if good else _say(item, "below", limit, origin)


def _at_least(sheet: Sheet, item: Item, given: Any) -> str:
    limit, origin = _limit(sheet, item, given)
    read = item.read()
    if limit is None or read is None or read.value is None:
        return ""
    good = read.value >= limit and read.comparator != "<"
    return "" if good else _say(item, "at least", limit, origin)


def _ticked(sheet: Sheet, item: Item, given: Any) -> str:
    read = item.read()
    return "" if read and read.is_ticked else "not ticked yet."


def _one_of(sheet: Sheet, item: Item, given: list[str]) -> str:
    if item.text in given:
        return ""
    right = " or ".join(str(dict(item.line.choices).get(word, word)) for word in given)
    return f"must be {right}."


def _falls_at_most(sheet: Sheet, item: Item, given: dict[str, Any]) -> str:
    start = sheet.value(given["line"])
    if start is None:
        return "needs the reading at the start."
    value = item.value
    if value is None:
        return ""
    fell = start - value
    if fell <= given["by"]:
        return ""
    return f"fell by {fell:.3g} {given['unit']}; at most {given['by']:g} {given['unit']} passes."


def _after(sheet: Sheet, item: Item, given: str) -> str:
    """The other reading must have passed, and earlier; it counts only where it is asked."""
    first = sheet.item(given)
    if first is None:
        return ""
    mine, other = item.deciding, first.deciding
    if mine is None or other is None or not other.text or first.state == "open":
        return f"comes after this one: {first.line.label}."
    if _verdict(sheet, first) is not True:
        return f"counts only after this has passed: {first.line.label}."
    if mine.read_at < other.read_at:
        return f"must be read after this one: {first.line.label}."
    return ""


def _hours_apart(sheet: Sheet, item: Item, given: Any) -> str:
    hour = item.value
    if hour is None or hour != int(hour):
        return "must be a whole hour, 0 to 23."
    same = [
        str(other.stage)
        for other in sheet.items
        if other.line.key == item.line.key and other.stage != item.stage and other.value == hour
    ]
    if not same:
        return ""
    return f"{same[0]} washes in the same hour; two washes never run together."


def _above_line(sheet: Sheet, item: Item, given: str) -> str:
    other, value = sheet.value(given), item.value
    if other is None or value is None or value > other:
        return ""
    return f"must be above {other:.3g}{_unit(item)} as left."


def _below_line(sheet: Sheet, item: Item, given: str) -> str:
    other, value = sheet.value(given), item.value
    if other is None or value is None or value < other:
        return ""
    return (
        f"must be below {other:.3g}{_unit(item)} as left: the tank empties before the pump starts."
    )


RULES: dict[str, Callable[[Any, Any, Any], str]] = {
    "at_most": _at_most,
    "below": _below,
    "at_least": _at_least,
    "ticked": _ticked,
    "one_of": _one_of,
    "falls_at_most": _falls_at_most,
    "after": _after,
    "hours_apart": _hours_apart,
    "above_line": _above_line,
    "below_line": _below_line,
}
#: every word that `passes` may hold: those above, and lines that are judged by other rows
PASSING = (*RULES, "no_notice", "timer", "final")


def _no_notice(sheet: Sheet, item: Item, level: str) -> bool | str:
    standing = [notice for notice in sheet.notices if notice.level == level]
    if not standing:
        return True
    return f"the notice still stands: {standing[0].get_level_display().lower()}."


def _timer(sheet: Sheet, item: Item) -> bool | str | None:
    timer = item.timer
    if timer is None:
        return None
    until = timer.stopped_at or sheet.now
    if until >= _ends(item):
        return True
    return f"stopped after {(until - timer.started_at).total_seconds() / 3600:.1f} h."


def _ends(item: Item) -> datetime:
    assert item.timer
    return item.timer.started_at + timedelta(minutes=item.timer.needed_minutes)


def _is_running(sheet: Sheet, item: Item) -> bool:
    return bool(item.timer and item.timer.stopped_at is None and sheet.now < _ends(item))


def _left(sheet: Sheet, item: Item) -> str:
    left = (_ends(item) - sheet.now).total_seconds() / 60
    return f"{int(left // 60)} h {int(left % 60)} min are left."


def counts(step: DialStep) -> bool:
    """A reading that proves something: read after three turnovers."""
    return (
        step.read_at is not None
        and step.residual_low_mg_l is not None
        and (step.turnovers or 0) >= TURNOVERS_NEEDED - 1e-9
    )


def _final_step(sheet: Sheet) -> bool | str | None:
    final = sheet.final_step
    if final is None:
        return None
    if not counts(final):
        return "the final setting needs a residual read after three turnovers."
    if sheet.aim is None:
        return True
    low, high = sheet.aim
    got_low, got_high = final.residual_low_mg_l or 0, final.residual_high_mg_l
    middle = (got_low + (got_high if got_high is not None else got_low)) / 2
    if low <= middle <= high:
        return True
    return f"the residual must lie within {low:g} to {high:g} mg/L after the retention tank."
