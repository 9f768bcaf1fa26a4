"""Whether an answer passes: the state of each line, and one sentence about it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any

from equipment.quantities import MEASURED, NOT_FOUND

from .advice import Advice, advise
from .asked import Asked, Item
from .brine import SEPTIC, rule_of
from .facts import Rule, Timer
from .keys import AFTER_CONTACT, IN_LINE, LineKey
from .kinds import LineKind
from .largest import left_too_high
from .panels.run import Outcomes
from .states import ANSWERED, FAILED, LOOK_TWICE, OPEN, OVERRIDDEN, PASSED, SKIPPED, counts
from .values import ReadAnswer

#: True: passed. A sentence: failed. None: not a gate, or nothing to judge yet
Verdict = bool | str | None


class Judge:
    """What lines are judged by: the answers, the panels, and the moment. Each is judged once."""

    def __init__(self, asked: Asked, outcomes: Outcomes, *, now: datetime) -> None:
        self.asked = asked
        self.outcomes = outcomes
        self.now = now
        self._verdicts: dict[str, Verdict] = {}
        self._states: dict[str, tuple[str, str]] = {}

    @cached_property
    def advice(self) -> Advice:
        """The next setting of the dial-back: what its page shows is what its gate asks."""
        return advise(self.outcomes)

    def state(self, item: Item) -> tuple[str, str]:
        """State of a line and one sentence about it."""
        if item.key not in self._states:
            self._states[item.key] = OPEN, ""  # two lines that ask for each other end here
            self._states[item.key] = _state(self, item)
        return self._states[item.key]

    def verdict(self, item: Item) -> Verdict:
        if item.key not in self._verdicts:
            self._verdicts[item.key] = None
            self._verdicts[item.key] = _verdict(self, item)
        return self._verdicts[item.key]


def _state(judge: Judge, item: Item) -> tuple[str, str]:
    if _is_running(judge, item) and not item.override:
        return OPEN, _left(judge, item)
    if item.line.kind == LineKind.STEPS and not judge.asked.final_step and not item.override:
        some = bool(judge.asked.steps)
        return OPEN, "no step has been kept as the final setting." if some else "no step yet."
    verdict = judge.verdict(item)
    unchecked = next(
        (a for a in item.answers.values() if a.text and a.warning and not a.is_confirmed), None
    )
    if verdict is True and not unchecked:
        return PASSED, ""
    if item.override:
        return OVERRIDDEN, f"{item.override.reason} ({item.override.by})"
    if unchecked and verdict is not False:
        return LOOK_TWICE, unchecked.warning
    if isinstance(verdict, str):
        return FAILED, verdict
    return _answered(item)


def _answered(item: Item) -> tuple[str, str]:
    """State of a line that is no gate, or of a gate that has no answer."""
    answer = item.deciding
    if answer and answer.skip_reason and not answer.text:
        if item.line.is_gate:
            return OPEN, f"not answered ({answer.skip_reason}); it must pass or be overridden."
        return SKIPPED, f"{answer.skip_reason} ({answer.by})"
    if (answer and answer.text) or item.filed:
        return ANSWERED, ""
    return OPEN, "not answered yet."


def _verdict(judge: Judge, item: Item) -> Verdict:
    line = item.line
    if line.is_gate and "no_notice" in line.passes:
        return _no_notice(judge, line.passes["no_notice"])
    if line.kind == LineKind.TIMER:
        return _timer(judge, item)
    if line.kind == LineKind.STEPS:
        return _final_step(judge) if line.is_gate or judge.asked.steps else None
    if not line.is_gate or item.read() is None:
        return None
    for word, rule in RULES.items():
        if word in line.passes:
            sentence = rule(judge, item, line.passes[word])
            if sentence:
                return sentence
    return True


# --- limits -------------------------------------------------------------------------------------


def limit_of(judge: Judge, item: Item, given: float | str) -> tuple[float | None, str]:
    """A limit as a number and where it comes from."""
    if isinstance(given, int | float):
        return float(given), ""
    source, _, name = str(given).partition(".")
    if source == "company":
        return judge.asked.company[name], "company value"
    name = str(given).removeprefix("result:")
    return judge.outcomes.expected(name, item.stage), "worked out for this water"


def _unit(item: Item) -> str:
    key = item.line.quantity_key
    return f" {MEASURED[key].unit}" if key and MEASURED[key].unit else ""


def _say(item: Item, words: str, limit: float, origin: str, end: str = "") -> str:
    why = f", {origin}" if origin else ""
    which = f"{end} of {item.shown}" if end else item.shown
    return f"must be {words} {limit:.3g}{_unit(item)}{why}; {which} is not."


def _at_most(judge: Judge, item: Item, given: float | str) -> str:
    limit, origin = limit_of(judge, item, given)
    read = item.read()
    if limit is None or read is None or read.high is None or read.low is None:
        return ""
    if read.high <= limit:
        return ""
    return _say(item, "at most", limit, origin, _which(read, low=read.low <= limit, high=False))


def _below(judge: Judge, item: Item, given: float | str) -> str:
    limit, origin = limit_of(judge, item, given)
    read = item.read()
    if limit is None or read is None or read.high is None or read.low is None:
        return ""
    if read.high < limit or (read.comparator == NOT_FOUND and read.high <= limit):
        return ""
    return _say(item, "below", limit, origin, _which(read, low=read.low < limit, high=False))


def _at_least(judge: Judge, item: Item, given: float | str) -> str:
    limit, origin = limit_of(judge, item, given)
    read = item.read()
    if limit is None or read is None or read.high is None or read.low is None:
        return ""
    if read.low >= limit and read.comparator != NOT_FOUND:
        return ""
    return _say(item, "at least", limit, origin, _which(read, low=False, high=read.high >= limit))


def _which(read: ReadAnswer, *, low: bool, high: bool) -> str:
    """The end of a range that does not pass, "" where none passes or it is one figure."""
    if read.other is None or low == high:
        return ""
    return "the upper end" if low else "the lower end"


def _ticked(judge: Judge, item: Item, given: object) -> str:
    read = item.read()
    return "" if read and read.is_ticked else "not ticked yet."


def _one_of(judge: Judge, item: Item, given: list[str]) -> str:
    if item.text in given:
        return ""
    words = dict(item.line.choices)
    return f"must be {' or '.join(words.get(word, word) for word in given)}."


def _ends_with(judge: Judge, item: Item, given: str) -> str:
    """The last of the cycles run so far; until then another follows."""
    if item.text.split()[-1:] == [given]:
        return ""
    wanted = dict(item.line.choices).get(given, given)
    return f"cycle {len(item.cycles)} ended {item.cycles[-1]}: another follows until {wanted}."


def _carbon_out(judge: Judge, item: Item, given: object) -> str:
    """Carbon in line takes the chlorine up and is spoiled by it."""
    is_carbon = item.stage and item.stage.medium and item.stage.medium.is_carbon
    if not is_carbon or item.text not in IN_LINE:
        return ""
    return "carbon takes the chlorine up: bypass it."


def _dose_allowed(judge: Judge, item: Item, given: object) -> str:
    """The setting as left, by all its figures: the judgement that a step of the dial-back meets."""
    return left_too_high(judge.outcomes)


def _brine_allowed(judge: Judge, item: Item, given: object) -> str:
    """What the state of the house bars is passed over only by name."""
    rule = rule_of(judge.asked.record.region)
    if rule is None or not rule.bars_septic or item.text != SEPTIC:
        return ""
    return f"{rule.row} Lead it elsewhere."


# --- one line against another -------------------------------------------------------------------


def _falls_at_most(judge: Judge, item: Item, given: Rule) -> str:
    start = judge.asked.value(given["line"])
    if start is None:
        return "needs the reading at the start."
    value = item.value
    if value is None:
        return ""
    fell = start - value
    if fell <= given["by"]:
        return ""
    return f"fell by {fell:.3g} {given['unit']}; at most {given['by']:g} {given['unit']} passes."


def _after(judge: Judge, item: Item, given: str) -> str:
    """The other reading must have passed, and earlier; it counts only where it is asked."""
    first = judge.asked.item(given, item.stage) or judge.asked.item(given)
    if first is None:
        return ""
    return _follows(judge, item, first)


def _after_all(judge: Judge, item: Item, given: str) -> str:
    """The other line must have passed for each part and tank it is asked of."""
    others = [other for other in judge.asked.items if other.line.key == given]
    return next((said for other in others if (said := _follows(judge, item, other))), "")


def _follows(judge: Judge, item: Item, first: Item) -> str:
    mine, other = item.deciding, first.deciding
    if mine is None or other is None or not other.text or judge.state(first)[0] == OPEN:
        return f"comes after this one: {first.label}."
    if judge.verdict(first) is not True:
        return f"counts only after this has passed: {first.label}."
    if mine.read_at < other.read_at:
        return f"must be read after this one: {first.label}."
    return ""


def _hours_apart(judge: Judge, item: Item, given: object) -> str:
    hour = item.value
    if hour is None or hour != int(hour):
        return "must be a whole hour, 0 to 23."
    same = [
        str(other.stage)
        for other in judge.asked.items
        if other.line.key == item.line.key and other.stage != item.stage and other.value == hour
    ]
    if not same:
        return ""
    return f"{same[0]} backwashes in the same hour; two backwashes never run together."


def _above_line(judge: Judge, item: Item, given: str) -> str:
    other, value = judge.asked.value(given), item.value
    if other is None or value is None or value > other:
        return ""
    return f"must be above {other:.3g}{_unit(item)} as left."


def _below_line(judge: Judge, item: Item, given: str) -> str:
    other, value = judge.asked.value(given), item.value
    if other is None or value is None or value < other:
        return ""
    return (
        f"must be below {other:.3g}{_unit(item)} as left: the tank empties before the well "
        "pump starts."
    )


#: words of "passes": a sentence when it fails, "" when it passes
RULES: dict[str, Callable[[Judge, Item, Any], str]] = {
    "at_most": _at_most,
    "below": _below,
    "at_least": _at_least,
    "ticked": _ticked,
    "one_of": _one_of,
    "ends_with": _ends_with,
    "carbon_out": _carbon_out,
    "brine_allowed": _brine_allowed,
    "dose_allowed": _dose_allowed,
    "falls_at_most": _falls_at_most,
    "after": _after,
    "after_all": _after_all,
    "hours_apart": _hours_apart,
    "above_line": _above_line,
    "below_line": _below_line,
}
#: every word that `passes` may hold: those above, and lines that are judged by other rows
PASSING = (*RULES, "no_notice", "timer", "final")


# --- notices, waits and the final setting -------------------------------------------------------


def _no_notice(judge: Judge, level: str) -> bool | str:
    standing = [notice for notice in judge.asked.notices if notice.level == level]
    if not standing:
        return True
    return f"the notice still stands: {standing[0].title.lower()}."


def _timer(judge: Judge, item: Item) -> Verdict:
    timer = item.timer
    if timer is None:
        return None
    last = judge.asked.record.closed_at or judge.now
    until = wait_ended(judge.asked, timer) or min(judge.now, last)
    if until >= _ends(timer.started_at, timer.needed_minutes):
        return True
    return f"stopped after {(until - timer.started_at).total_seconds() / 3600:.1f} h."


def wait_ended(asked: Asked, timer: Timer) -> datetime | None:
    """When a wait was over: stopped, or for chlorine the first tap read as it was flushed out."""
    if timer.stopped_at or timer.line_key != LineKey.CONTACT:
        return timer.stopped_at
    items = [asked.item(key) for key in AFTER_CONTACT]
    read = [i.deciding.read_at for i in items if i and i.deciding and i.deciding.text]
    return min((at for at in read if at > timer.started_at), default=None)


def _ends(started_at: datetime, minutes: float) -> datetime:
    return started_at + timedelta(minutes=minutes)


def _is_running(judge: Judge, item: Item) -> bool:
    timer = item.timer
    if timer is None or wait_ended(judge.asked, timer) is not None:
        return False
    return judge.now < _ends(timer.started_at, timer.needed_minutes)


def _left(judge: Judge, item: Item) -> str:
    assert item.timer
    ends = _ends(item.timer.started_at, item.timer.needed_minutes)
    left = (ends - judge.now).total_seconds() / 60
    return f"{int(left // 60)} h {int(left % 60)} min are left."


def _final_step(judge: Judge) -> Verdict:
    final = judge.asked.final_step
    if final is None:
        return None
    if final.left_because:
        return f"left so for a recheck within two working days: {final.left_because}."
    if not counts(final):
        return "the final setting needs a residual read after three turnovers."
    last = judge.asked.steps[-1]
    if last != final:
        return (
            f"step {last.number} was set after it: what runs now must have been read last. Set it "
            "again, wait, read, and keep that step."
        )
    advice = judge.advice
    if advice.json is None:
        return f"the final setting cannot be judged: {advice.waiting.rstrip('.')}."
    if advice.value("stop"):
        return True
    return f"this setting does not stay yet. {advice.value('reason')}"
