"""Rules of the follow-ups, as the owner edits them."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.auth.models import User

from jobs.errors import BadEntry
from jobs.models import FollowUpRule, Job

from .follow_up_dates import FACTS, validate_rule
from .owner_edits import save_owned

LONGEST_DAYS = 3660


def save_rule(*, rule: FollowUpRule, seen: int, by: User, now: datetime, reason: str = "") -> None:
    """Keep a rule whose every parameter is read by the code; standing promises stay as they are."""
    check_rule(rule)
    save_owned(row=rule, seen=seen, by=by, now=now, reason=reason)


def check_rule(rule: FollowUpRule) -> None:
    """Refuse what could not be applied, before it stops a visit from being closed."""
    _must_be(rule.filter, dict, "filter")
    _must_be(rule.also_on, list, "also_on")
    _must_be(rule.closing_parameters, dict, "closing_parameters")
    _must_be(rule.recurrence, dict, "recurrence")
    for way in rule.also_on:
        _must_be(way, dict, "also_on")
        _must_be(way.get("filter", {}), dict, "also_on")
    validate_rule(rule)
    _check_values(rule.filter, "filter")
    for way in rule.also_on:
        _check_values(way.get("filter", {}), "also_on")
        for name in ("working_days", "window_after_days"):
            if name in way and not _is_count(way[name], 0):
                raise BadEntry(f"{name} needs a whole number of days.", field="also_on")
    if len(rule.recurrence) > 1 or not all(_is_count(n, 1) for n in rule.recurrence.values()):
        raise BadEntry("Say either days or months, one or more.", field="recurrence")
    if rule.job_kind and rule.job_kind not in Job.Kind.values:
        raise BadEntry("Choose a kind of job from the list.", field="job_kind")
    if not 0 <= rule.offset_days <= LONGEST_DAYS:
        raise BadEntry("The days until it is due are 0 to 3660.", field="offset_days")


def _must_be(value: Any, kind: type, field: str) -> None:
    if not isinstance(value, kind):
        shape = "{...}" if kind is dict else "[{...}]"
        raise BadEntry(f"Write it as {shape}.", field=field)


def _check_values(wanted: dict[str, Any], field: str) -> None:
    """{"above": figure}, one value of the fact's type, or a list of such values."""
    for name, value in wanted.items():
        kind = FACTS.get(name, str)
        if isinstance(value, dict):
            if set(value) != {"above"} or not isinstance(value["above"], int | float):
                raise BadEntry(f'{name}: write {{"above": 10}}.', field=field)
        elif not all(_fits(each, kind) for each in (value if isinstance(value, list) else [value])):
            raise BadEntry(f"{name} needs {_in_words(kind)}.", field=field)


def _fits(value: Any, kind: type) -> bool:
    if kind is float:
        return isinstance(value, int | float) and not isinstance(value, bool)
    return isinstance(value, kind)


def _in_words(kind: type) -> str:
    return {str: "text in quotes", bool: "true or false", float: "a figure"}[kind]


def _is_count(value: Any, least: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and least <= value <= LONGEST_DAYS
