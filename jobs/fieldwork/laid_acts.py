"""Acts that wait on a phone, laid over the facts in the order they were done.

The facts as they will be once the office has them; what it would refuse changes nothing, and an act
of a kind that changes no fact of the record is passed over. The office judges again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from itertools import groupby
from typing import Any

from equipment.engineering.names import ToldBy
from jobs.wording.pump_settings import setting_said

from . import laid_steps, strips
from .facts import Acknowledgement, Answer, Facts, Notice, Override, Timer
from .facts_beside import Poured
from .keys import LineKey
from .kinds import NoticeCause, NoticeLevel, lifted_on
from .laid_over import Person, Typed, laid_over
from .leaving import left_reason
from .sheet import Sheet, read_sheet

Act = Mapping[str, Any]
POURED = "chlorine is in the well and the pipes"


def minutes_of_wait(sheet: Sheet, line_key: str) -> float:
    """The computed time, never below the company's; the company's where nothing can be computed."""
    lines = (line.expectation for line in sheet.facts.lines if line.key == line_key)
    expectation = next(lines, "")
    hours = sheet.outcomes.expected(expectation) if expectation else None
    return 60 * max(hours or 0, sheet.company["contact_minimum_h"])


def with_acts(
    facts: Facts, acts: Iterable[Act], *, by: Person, moment: Callable[[str], datetime]
) -> Facts:
    """`moment` reads when an act was done, in the company's time."""
    numbers: dict[str, int] = {}  # of the steps that acts of this phone have set
    for is_answers, run in groupby(acts, key=lambda act: act["kind"] == "answer"):
        if is_answers:
            facts = laid_over(facts, [Typed.of_act(act, moment(act["at"])) for act in run], by=by)
            continue
        for act in run:
            at, kind = moment(act["at"]), act["kind"]
            if kind in laid_steps.KINDS:
                facts = _with_step(facts, act, at, by, numbers)
            elif kind in KINDS:
                facts = KINDS[kind](facts, act, at, by)
    return facts


def _with_step(facts: Facts, act: Act, at: datetime, by: Person, numbers: dict[str, int]) -> Facts:
    said, kind = act["payload"], act["kind"]
    before = _going_on(facts) if kind in laid_steps.GO_ON else facts
    sheet = read_sheet(before, now=at)
    number = _number_of_step(facts, act, numbers)
    doing = laid_steps.Doing(sheet, said, at, number, str(act.get("uuid") or ""))
    steps = laid_steps.steps_after(doing, kind)
    if act.get("uuid") and steps and kind in ("step-set", "step-read"):
        numbers[act["uuid"]] = steps[-1].number
    if steps == before.steps:
        return facts
    after = replace(before, steps=steps)
    return _passed_over(after, by) if kind == "step-leave" else after


def _number_of_step(facts: Facts, act: Act, numbers: Mapping[str, int]) -> int | None:
    """By the act that made it, also one that found it standing; else by its number."""
    said = act["payload"]
    name = str(said.get("step") or act.get("needs") or "")
    for step in facts.steps:
        if name and step.made_by == name:
            return step.number
    number = numbers.get(name) or said.get("number")
    return int(number) if number else None


def _going_on(facts: Facts) -> Facts:
    """As it is once the dial-back goes on: what it was left at counts no more."""
    if not laid_steps.is_left(facts.steps):
        return facts
    steps = laid_steps.taken_back(facts.steps)
    return replace(facts, steps=steps, overrides=_others(facts, LineKey.STEPS))


def _passed_over(facts: Facts, by: Person) -> Facts:
    """The line of the steps, for the setting that it was left at."""
    left = next(step for step in facts.steps if step.left_because)
    reason = left_reason(setting_said(left.setting), left.left_because)
    row = Override(line_key=LineKey.STEPS, reason=reason, by=by.name)
    return replace(facts, overrides=(*_others(facts, LineKey.STEPS), row))


def _strips(facts: Facts, act: Act, at: datetime, by: Person) -> Facts:
    oxidant = read_sheet(facts, now=at).oxidant
    try:
        beside = strips.taken(facts.beside, act["payload"], oxidant=oxidant, day=at.date())
    except ValueError:
        return facts
    return replace(facts, beside=beside)


def _skip(facts: Facts, act: Act, at: datetime, by: Person) -> Facts:
    box = Typed.of_act({"payload": {"text": "", **act["payload"]}}, at)
    reason = str(act["payload"].get("reason", "")).strip()
    place = (box.line, box.stage, box.tank, box.side)
    kept = {(a.line_key, a.stage, a.tank, a.side): a for a in facts.answers}
    if not reason or not any(line.key == box.line and line.may_skip for line in facts.lines):
        return facts
    before = kept.get(place)
    kept[place] = Answer(
        line_key=box.line,
        text="",
        read_at=at,
        by=by.name,
        by_id=by.pk,
        stage=box.stage,
        tank=box.tank,
        side=box.side,
        version=before.version + 1 if before else 1,
        skip_reason=reason[:200],
    )
    return replace(facts, answers=tuple(kept.values()))


def _override(facts: Facts, act: Act, at: datetime, by: Person) -> Facts:
    said, reason = act["payload"], str(act["payload"].get("reason", "")).strip()
    if not reason or not any(line.key == said["line"] and line.is_gate for line in facts.lines):
        return facts
    others = _others(facts, said["line"])
    row = Override(line_key=said["line"], reason=reason, by=by.name)
    return replace(facts, overrides=(*others, row))


def _override_back(facts: Facts, act: Act, at: datetime, by: Person) -> Facts:
    return replace(facts, overrides=_others(facts, act["payload"]["line"]))


def _others(facts: Facts, line: str) -> tuple[Override, ...]:
    return tuple(row for row in facts.overrides if row.line_key != line)


def _acknowledge(facts: Facts, act: Act, at: datetime, by: Person) -> Facts:
    row = Acknowledgement(caution=act["payload"]["caution"], by=by.name, at=at)
    return replace(facts, acknowledgements=(*facts.acknowledgements, row))


def _pour(facts: Facts, act: Act, at: datetime, by: Person) -> Facts:
    """Who was told is on the form by house; "do not use" stands from now on."""
    said = act["payload"]
    houses = [name.removeprefix("told-") for name, value in said.items() if _is_named(name, value)]
    rows = facts.beside.poured
    for fresh in [_poured(said, house, at) for house in houses]:
        rows = _with_house(rows, fresh)
    beside = replace(facts.beside, poured=rows or (Poured(site="", whom="", at=at),))
    notice = Notice(level=NoticeLevel.NO_USE, reason=POURED, cause=NoticeCause.OXIDANT)
    return replace(facts, beside=beside, notices=_with_notice(facts.notices, notice))


def _with_notice(rows: tuple[Notice, ...], fresh: Notice) -> tuple[Notice, ...]:
    """What the same evidence ends stands once; another thing found is added to it in words."""
    ends = lifted_on(fresh.level, fresh.cause)
    for place, row in enumerate(rows):
        if row.level != fresh.level or lifted_on(row.level, row.cause) != ends:
            continue
        if fresh.cause != NoticeCause.OTHER or fresh.reason in row.reason:
            return rows
        both = replace(row, reason=f"{row.reason}; {fresh.reason}")
        return (*rows[:place], both, *rows[place + 1 :])
    return (fresh, *rows)


def _is_named(name: str, value: object) -> bool:
    return name.startswith("told-") and bool(value)


def _poured(said: Mapping[str, Any], house: str, at: datetime) -> Poured:
    """What the form said of one house; an older page asks for the name alone."""
    how = str(said.get(f"how-{house}", ""))
    return Poured(
        site="",
        whom=str(said[f"told-{house}"]),
        at=at,
        house=int(house) if house.isdecimal() else 0,
        how=how if how in list(ToldBy) else "",
        number=str(said.get(f"number-{house}", "")) if how == ToldBy.TELEPHONE else "",
        read_back=said.get(f"read_back-{house}") in (True, "on"),
        told_at=at,
    )


def _with_house(rows: tuple[Poured, ...], fresh: Poured) -> tuple[Poured, ...]:
    """One row for each house; what is told there is not made less by another act."""
    for place, row in enumerate(rows):
        if fresh.house and row.house == fresh.house:
            keeps = row.is_told and not (fresh.how and fresh.is_told)
            put = row if keeps else replace(fresh, site=row.site, at=row.at)
            return (*rows[:place], put, *rows[place + 1 :])
    return (*rows, fresh)


def _notice(facts: Facts, act: Act, at: datetime, by: Person) -> Facts:
    """Raised here, over this house; what stands of its kind is not raised again."""
    said = act["payload"]
    level, reason = str(said.get("level", "")), str(said.get("reason", "")).strip()
    is_here = facts.record.site and str(said.get("site")) == str(facts.record.site)
    if not is_here or not reason or level not in list(NoticeLevel):
        return facts
    notice = Notice(level=level, reason=reason, cause=str(said.get("cause", "")))
    return replace(facts, notices=_with_notice(facts.notices, notice))


# --- waits --------------------------------------------------------------------------------------


def _timer(facts: Facts, line: str) -> Timer | None:
    return next((timer for timer in facts.timers if timer.line_key == line), None)


def _with_timer(facts: Facts, line: str, fresh: Timer | None) -> Facts:
    others = tuple(timer for timer in facts.timers if timer.line_key != line)
    return replace(facts, timers=(*others, fresh) if fresh else others)


def _start(facts: Facts, act: Act, at: datetime, by: Person) -> Facts:
    line = act["payload"]["line"]
    if _timer(facts, line) or (line == LineKey.CONTACT and not facts.beside.poured):
        return facts
    minutes = minutes_of_wait(read_sheet(facts, now=at), line)
    return _with_timer(facts, line, Timer(line_key=line, started_at=at, needed_minutes=minutes))


def _stop(facts: Facts, act: Act, at: datetime, by: Person) -> Facts:
    line = act["payload"]["line"]
    timer = _timer(facts, line)
    if timer is None or timer.stopped_at or at < timer.started_at:
        return facts
    return _with_timer(facts, line, replace(timer, stopped_at=at))


def _again(facts: Facts, act: Act, at: datetime, by: Person) -> Facts:
    line = act["payload"]["line"]
    timer = _timer(facts, line)
    if timer is None or timer.stopped_at is None or at < timer.stopped_at:
        return facts
    minutes = minutes_of_wait(read_sheet(facts, now=at), line)
    return _with_timer(facts, line, Timer(line_key=line, started_at=at, needed_minutes=minutes))


def _undo(facts: Facts, act: Act, at: datetime, by: Person) -> Facts:
    line = act["payload"]["line"]
    timer = _timer(facts, line)
    if timer is None or not str(act["payload"].get("reason", "")).strip():
        return facts
    return _with_timer(facts, line, replace(timer, stopped_at=None) if timer.stopped_at else None)


KINDS: dict[str, Callable[[Facts, Act, datetime, Person], Facts]] = {
    "skip": _skip,
    "override": _override,
    "override-back": _override_back,
    "acknowledge": _acknowledge,
    "pour": _pour,
    "strips": _strips,
    "notice": _notice,
    "timer-start": _start,
    "timer-stop": _stop,
    "timer-again": _again,
    "timer-undo": _undo,
}
