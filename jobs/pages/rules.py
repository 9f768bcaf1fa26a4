"""The rules as the owner reads them: what each says, since when, and what stands under it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from django.db.models import Count, Q

from jobs.models import ChecklistLine, FollowUp, FollowUpRule, RuleVersion
from jobs.models.rules import CONTENT

STANDING = Q(follow_ups__status__in=[FollowUp.Status.OPEN, FollowUp.Status.BOOKED])


@dataclass(frozen=True)
class Listed:
    rule: FollowUpRule
    standing: int
    #: of these, made before the rule was changed: they are kept as they were made
    before: int


@dataclass(frozen=True)
class Version:
    """One version of a rule beside the one before it."""

    row: RuleVersion
    standing: int
    #: what it says anew, by the label of the field
    changed: tuple[str, ...]


def listed() -> list[Listed]:
    """Every rule, f2 before f10."""
    alive = FollowUp.objects.alive().order_by().values("rule")
    totals = {
        found["rule"]: (found["total"], found["before"])
        for found in alive.annotate(
            total=Count("pk"), before=Count("pk", filter=~Q(terms__in=RuleVersion.objects.newest()))
        )
    }
    return [
        Listed(rule, *totals.get(rule.pk, (0, 0)))
        for rule in sorted(FollowUpRule.objects.all(), key=_order)
    ]


def _order(rule: FollowUpRule) -> tuple[str, int]:
    digits = "".join(filter(str.isdigit, rule.code))
    return rule.code[:1], int(digits or 0)


def versions_of(rule: FollowUpRule) -> list[Version]:
    """Newest first, with what each says anew and the promises that stand under it."""
    rows = list(rule.versions.all())
    counted = rule.versions.annotate(standing=Count("follow_ups", filter=STANDING))
    standing = dict(counted.values_list("pk", "standing"))
    pairs = zip(rows, [None, *rows], strict=False)
    said = [Version(row, standing[row.pk], differing(before, row)) for row, before in pairs]
    return said[::-1]


def differing(before: RuleVersion | None, after: RuleVersion) -> tuple[str, ...]:
    """Labels of the columns in which two versions differ."""
    if before is None or before == after:
        return ()
    old, new = before.content(), after.content()
    return tuple(_label(field.name) for field in CONTENT if old[field.name] != new[field.name])


def since(terms: RuleVersion) -> Collection[str]:
    """What the rule says otherwise today than when something was promised under it."""
    newest = RuleVersion.objects.newest().get(rule=terms.rule_id)
    return differing(terms, newest)


LABELS = {
    "event": "when",
    "filter": "under which conditions",
    "also_on": "also when",
    "subject": "what it is about",
    "anchor": "how the day is found",
    "offset_days": "days until it is due",
    "window_before_days": "days before",
    "window_after_days": "days after",
    "recurrence": "again",
    "closing": "what keeps it",
    "closing_parameters": "what keeps it exactly",
    "job_kind": "job to book",
    "minutes": "time to book",
    "harm": "place on the worklist",
    "reason": "why",
    "mark": "basis",
}


def _label(name: str) -> str:
    return LABELS.get(name, name)


def lines_asked() -> dict[str, str]:
    """What the lines of the lists in use ask, by key, in the order of a record."""
    lines = ChecklistLine.objects.filter(template__is_current=True).order_by("template", "position")
    return {line.key: line.label for line in lines}


def said_as(given_up: int) -> str:
    return {0: "No promise was", 1: "1 promise was"}.get(given_up, f"{given_up} promises were")
