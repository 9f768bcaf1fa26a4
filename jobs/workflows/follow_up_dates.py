"""From a rule and an event to the day and window of a promise."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TypedDict

from equipment.engineering.oxidant.feed_setting import REFILL_SHARE
from equipment.models import SettingChange, Stage
from equipment.quantities import SettingName
from jobs.errors import BadEntry
from jobs.models import FACTS_TOLD, Company, FollowUpRule, RuleContent
from jobs.records.supply import supply_of
from jobs.schedule.working_days import add_working_days

RUN_EARLIEST_DAYS, RUN_LATEST_DAYS = 21, 45
LAST_FIFTH = 0.2
DEFAULT_RUN_DAYS = 7.0
Fact = str | bool | float
#: one value, one of several, or {"above": figure}
Wanted = Fact | list[Fact] | dict[str, float]


class Way(TypedDict, total=False):
    """One of the events a rule answers, under which facts, and when it is due then.

    The window may end so many days after the due day on its own, counted as the rule counts.
    """

    event: str
    filter: dict[str, Wanted]
    working_days: int
    window_after_days: int


@dataclass(frozen=True)
class Dates:
    due_on: date
    window_from: date
    window_until: date
    basis: str = ""


def ways_of(rule: RuleContent) -> list[Way]:
    """The occasions of a rule, the one it is named for first."""
    return [{"event": rule.event, "filter": rule.filter}, *rule.also_on]


def matching(rule: RuleContent, event: str, facts: Mapping[str, Fact]) -> Way | None:
    """The parameters under which the rule answers this event, None if it does not."""
    for way in ways_of(rule):
        if way["event"] == event and passes(way.get("filter", {}), facts):
            return way
    return None


def passes(wanted: Mapping[str, Wanted], facts: Mapping[str, Fact]) -> bool:
    """Every named fact is the value, or one of the values; {"above": x} for figures."""
    for name, value in wanted.items():
        if name == "stage_kind":
            continue  # chooses the parts, not whether the rule answers
        fact = facts.get(name)
        if isinstance(value, dict):
            if fact is None or not float(fact) > value["above"]:
                return False
        elif isinstance(value, list):
            if fact not in value:
                return False
        elif fact != value:
            return False
    return True


def dates_for(rule: RuleContent, way: Way, *, day: date, stage: Stage | None) -> Dates:
    before, basis = rule.window_before_days, ""
    after = int(way.get("window_after_days", rule.window_after_days))
    if "working_days" in way:
        due = add_working_days(day, int(way["working_days"]))
        before, after = (due - day).days, int(way.get("window_after_days", 3))
    elif rule.anchor == FollowUpRule.Anchor.WORKING_DAYS:
        return _in_working_days(rule, day, after)
    elif rule.anchor == FollowUpRule.Anchor.REFILL_FORECAST and stage:
        days, basis = refill_days(stage)
        due = day + timedelta(days=days)
    elif rule.anchor == FollowUpRule.Anchor.RUN_END and stage:
        due = day + timedelta(days=run_end_days(_run_days(stage)))
        latest = day + timedelta(days=RUN_LATEST_DAYS)
        if "window_after_days" in way:
            latest = due + timedelta(days=after)
        return Dates(due, day + timedelta(days=RUN_EARLIEST_DAYS), latest)
    else:
        due = day + timedelta(days=rule.offset_days)
    return Dates(due, max(day, due - timedelta(days=before)), due + timedelta(days=after), basis)


def _in_working_days(rule: RuleContent, day: date, after: int) -> Dates:
    """Days of rest do not count: late begins on the working day after the window."""
    offset = rule.offset_days
    earliest = max(0, offset - rule.window_before_days)
    return Dates(
        add_working_days(day, offset),
        add_working_days(day, earliest),
        add_working_days(day, offset + after + 1) - timedelta(days=1),
    )


def run_end_days(run_days: float) -> int:
    """Days to a day in the last fifth of a run, at least 21 and at most 45 days ahead."""
    if run_days > RUN_LATEST_DAYS:
        return RUN_LATEST_DAYS
    runs = math.ceil(_runs(RUN_EARLIEST_DAYS, run_days))
    days = math.floor(runs * run_days)
    while days < RUN_EARLIEST_DAYS or not _in_last_fifth(days, run_days):
        days += 1
        if days > RUN_LATEST_DAYS:
            return RUN_EARLIEST_DAYS  # runs so short that every day has a run's end
    return days


def _runs(days: int, run_days: float) -> float:
    """Rounded: 21 days of 1.4 are fifteen runs, not a hair more."""
    return round(days / run_days, 6)


def _in_last_fifth(days: int, run_days: float) -> bool:
    share = _runs(days, run_days) % 1.0
    return share >= 1 - LAST_FIFTH or share == 0


def _run_days(stage: Stage) -> float:
    setting = SettingChange.objects.current(stage, SettingName.WASH_INTERVAL)
    return setting.new_value if setting and setting.new_value else DEFAULT_RUN_DAYS


def refill_days(stage: Stage) -> tuple[int, str]:
    """Days to the earliest of: 20 percent left, the solution's age limit, the company's cap."""
    company = Company.load()
    limits = [(float(company.refill_cap_days), "company cap")]
    if stage.product and stage.product.shelf_life_days:
        limits.append((float(stage.product.shelf_life_days), "age of the solution"))
    supply = supply_of(stage.train_id)
    if supply and supply.days:
        limits.append((supply.days * (1 - REFILL_SHARE), "level forecast to 20 percent"))
    days, basis = min(limits)
    return max(1, math.floor(days)), basis


def _check_facts(event: FollowUpRule.Event, wanted: Mapping[str, Wanted], number: int) -> None:
    """A fact that is not told of an event would never be met."""
    told = sorted(FACTS_TOLD[event])
    for name in wanted:
        if name not in told:
            known = f"known: {', '.join(told)}" if told else "nothing is known then"
            raise BadEntry(
                f"{name} cannot be asked when {event.label}; {known}.", field=f"way{number}_{name}"
            )


def validate_rule(rule: RuleContent) -> None:
    """Refuse parameters that no code reads, naming the one at fault."""
    for number, way in enumerate(ways_of(rule)):
        if not isinstance(way, dict) or way.get("event") not in FollowUpRule.Event.values:
            raise BadEntry("Each further event needs the name of an event.", field="also_on")
        unknown = set(way) - {"event", "filter", "working_days", "window_after_days"}
        if unknown:
            raise BadEntry(f"{sorted(unknown)[0]} is not known here.", field="also_on")
        _check_facts(FollowUpRule.Event(way["event"]), way.get("filter", {}), number)
    allowed = {
        FollowUpRule.Closing.VISIT: {"job_kinds", "outcomes", "line_keys"},
        FollowUpRule.Closing.RESULT: {"sample_kinds", "outcomes"},
        FollowUpRule.Closing.FILL: set(),
        FollowUpRule.Closing.PART_OUT: set(),
        FollowUpRule.Closing.ACKNOWLEDGED: set(),
    }[FollowUpRule.Closing(rule.closing)]
    unknown = set(rule.closing_parameters) - allowed
    if unknown:
        raise BadEntry(f"{sorted(unknown)[0]} is not read here.", field="closing_parameters")
    if set(rule.recurrence) - {"every_days", "every_months"}:
        raise BadEntry("Say every_days or every_months.", field="recurrence")
