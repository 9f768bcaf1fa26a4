"""Rules of the follow-ups, as the owner edits them."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime
from difflib import get_close_matches

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Sample, Stage
from jobs.errors import BadEntry, WrongState
from jobs.fieldwork.dangers import Told
from jobs.models import FACTS, ChecklistLine, FollowUp, FollowUpRule, Job, Visit

from .follow_up_dates import Wanted, validate_rule
from .follow_ups import end_with_rule
from .never import refuse_what_never_happens
from .owner_edits import save_owned, version_of
from .reasons import SHORT, reason_given

LONGEST_DAYS = 3660
#: words that a fact may have
WORDS: dict[str, tuple[str, ...]] = {
    "job_kind": tuple(Job.Kind.values),
    "outcome": (*Visit.Outcome.values, *Sample.Outcome.values),
    "stage_kind": tuple(Stage.Kind.values),
    "sample_kind": tuple(Sample.Kind.values),
    "danger": tuple(each.value for each in Told),
}


def save_rule(*, rule: FollowUpRule, seen: int, by: User, now: datetime, reason: str = "") -> None:
    """Keep a rule whose every parameter is read by the code; standing promises stay as they are."""
    check_as_it_is_asked(rule)
    rule.code = rule.code or _own_code()
    save_owned(row=rule, seen=seen, by=by, now=now, reason=reason)


def _own_code() -> str:
    """Rules of the company count c1, c2; those that come with the program begin with f."""
    taken = FollowUpRule.objects.filter(code__startswith="c").values_list("code", flat=True)
    return f"c{max((int(code[1:]) for code in taken if code[1:].isdigit()), default=0) + 1}"


@transaction.atomic
def end_rule(
    *, rule: FollowUpRule, give_up: bool, reason: str, by: User, now: datetime
) -> list[FollowUp]:
    """Nothing more is promised; open promises stand or are given up, booked ones stand."""
    row = FollowUpRule.objects.select_for_update().get(pk=rule.pk)
    if not row.is_active:
        raise WrongState("This rule has ended already.")
    reason_given(reason, "Say why the rule ends.", least=SHORT)
    row.is_active = False
    save_owned(row=row, seen=version_of(row), by=by, now=now, reason=reason)
    return end_with_rule(rule=row, reason=reason, by=by, now=now) if give_up else []


@transaction.atomic
def begin_again(*, rule: FollowUpRule, by: User, now: datetime) -> None:
    """It promises from now on; what happened meanwhile is not caught up with."""
    row = FollowUpRule.objects.select_for_update().get(pk=rule.pk)
    if row.is_active:
        raise WrongState("This rule is in force already.")
    check_as_it_is_asked(row)
    row.is_active = True
    save_owned(row=row, seen=version_of(row), by=by, now=now, reason="in force again")


def check_as_it_is_asked(rule: FollowUpRule) -> None:
    """Refuse what no code reads, no record asks, and what could never happen."""
    asked: dict[str, set[str]] = {}
    lines = ChecklistLine.objects.filter(template__is_current=True)
    for purpose, key in lines.values_list("template__purpose", "key"):
        asked.setdefault(purpose, set()).add(key)
    check_lines(rule, set().union(*asked.values()))
    check_rule(rule, asked)


def check_rule(rule: FollowUpRule, asked: Mapping[str, Collection[str]] | None = None) -> None:
    """Refuse what could not be applied, before it stops a visit from being closed.

    `asked`: the lines of each kind of record.
    """
    _must_be(rule.filter, dict, "filter")
    _must_be(rule.also_on, list, "also_on")
    _must_be(rule.closing_parameters, dict, "closing_parameters")
    _must_be(rule.recurrence, dict, "recurrence")
    for way in rule.also_on:
        _must_be(way, dict, "also_on")
        _must_be(way.get("filter", {}), dict, "also_on")
    validate_rule(rule)
    _check_closing(rule)
    if not 0 <= rule.offset_days <= LONGEST_DAYS:
        raise BadEntry("The days until it is due are 0 to 3660.", field="offset_days")
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
    refuse_what_never_happens(rule, asked)


def check_lines(rule: FollowUpRule, known: Collection[str]) -> None:
    """Refuse a promise that waits for a line that nobody is asked."""
    for each in rule.closing_parameters.get("line_keys", []):
        for key in each if isinstance(each, list) else [each]:
            if key not in known:
                near = get_close_matches(key, known, n=2)
                hint = f" Do you mean {' or '.join(near)}?" if near else ""
                raise BadEntry(f"No checklist has a line {key}.{hint}", field="line_keys")


def _check_closing(rule: FollowUpRule) -> None:
    """What a promise waits for is one of a list."""
    by_result = rule.closing == FollowUpRule.Closing.RESULT
    lists: dict[str, list[str]] = {
        "job_kinds": Job.Kind.values,
        "sample_kinds": Sample.Kind.values,
        "outcomes": Sample.Outcome.values if by_result else Visit.Outcome.values,
    }
    for name, known in lists.items():
        for value in rule.closing_parameters.get(name, []):
            if value not in known:
                raise BadEntry(
                    f"{value} is none of {', '.join(known)}.", field="closing_parameters"
                )


def _must_be(value: object, kind: type, field: str) -> None:
    if not isinstance(value, kind):
        shape = "{...}" if kind is dict else "[{...}]"
        raise BadEntry(f"Write it as {shape}.", field=field)


def _check_values(wanted: dict[str, Wanted], field: str) -> None:
    """{"above": figure}, one value of the fact's type, or a list of such values."""
    for name, value in wanted.items():
        kind = FACTS.get(name, str)
        if isinstance(value, dict):
            if set(value) != {"above"} or not isinstance(value["above"], int | float):
                raise BadEntry(f'{name}: write {{"above": 10}}.', field=field)
        elif not all(_fits(each, kind) for each in (value if isinstance(value, list) else [value])):
            raise BadEntry(f"{name} needs {_in_words(kind)}.", field=field)
        elif name in WORDS:
            for each in value if isinstance(value, list) else [value]:
                if each not in WORDS[name]:
                    raise BadEntry(f"{each} is no {name}.", field=field)


def _fits(value: object, kind: type) -> bool:
    if kind is float:
        return isinstance(value, int | float) and not isinstance(value, bool)
    return isinstance(value, kind)


def _in_words(kind: type) -> str:
    return {str: "text in quotes", bool: "true or false", float: "a figure"}[kind]


def _is_count(value: object, least: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and least <= value <= LONGEST_DAYS
