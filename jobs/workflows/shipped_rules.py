"""Rules as they are shipped, brought to a database that has older ones.

The history of a rule says who wrote what: without a name it came with the program. A rule that is
still as it came becomes what is shipped now. Of one that the company edited only its words follow,
where they still are those it came with: how it works is the company's. Whether it is in force is
never touched, and promises keep the version they were made under, with its words.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from jobs.models import FollowUpRule

from .rules import check_rule

WORDS = ("name", "reason")
AS_SHIPPED = "as shipped"


@dataclass(frozen=True)
class BroughtUp:
    added: int = 0
    renewed: int = 0
    #: edited by the company and otherwise than shipped
    kept: int = 0


@transaction.atomic
def bring_up(shipped: Iterable[FollowUpRule]) -> BroughtUp:
    """Rules that are new are added. Running it again changes nothing."""
    added = renewed = kept = 0
    for rule in shipped:
        check_rule(rule)
        known = FollowUpRule.objects.select_for_update().filter(code=rule.code).first()
        if known is None:
            rule.full_clean()
            rule.save()
            added += 1
            continue
        renewed += _renew(known, rule)
        kept += known.content() != rule.content()
    return BroughtUp(added, renewed, kept)


def _renew(known: Any, shipped: FollowUpRule) -> bool:
    names = _follows(known)
    newer = {name: value for name, value in shipped.content().items() if name in names}
    if all(getattr(known, name) == value for name, value in newer.items()):
        return False
    for name, value in newer.items():
        setattr(known, name, value)
    known._change_reason = AS_SHIPPED
    known.full_clean()
    known.save()
    return True


def _follows(known: FollowUpRule) -> set[str]:
    """The columns that the program still writes: all of them, or the words that are its own."""
    content, came_with_us = known.content(), _as_it_came(known)
    own = {name for name, value in content.items() if came_with_us.get(name) != value}
    return set(WORDS) - own if own else set(content)


def _as_it_came(known: FollowUpRule) -> dict[str, Any]:
    """Of each column what the program wrote last, by its changes in the history."""
    before: dict[str, Any] = {}
    came: dict[str, Any] = {}
    for row in known.history.order_by("history_id"):
        now = {name: getattr(row, name) for name in known.content()}
        if row.history_user_id is None:
            came |= {name: value for name, value in now.items() if before.get(name) != value}
        before = now
    return came
