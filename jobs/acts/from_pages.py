"""The boxes and buttons of one page of a record, posted without script, as acts."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import uuid4

from django.contrib.auth.models import User
from django.http import QueryDict

from jobs.errors import JobsError
from jobs.fieldwork.asked import Item
from jobs.fieldwork.sheet import Block
from jobs.forms.record_items import box_of, changed
from jobs.models import ChecklistRecord
from jobs.workflows.answers import Entered, Place

from .door import answer_to, answers_to, of_page


def save_posted(
    record: ChecklistRecord, items: tuple[Item, ...], post: QueryDict, *, by: User, now: datetime
) -> dict[str, str]:
    """Each changed box is an act; the sentences of the refused ones by box name."""
    boxes, errors = changed(items, post)
    tolds = [
        of_page("answer", _payload(*told), uuid=uuid4(), record=record) for told in boxes.values()
    ]
    answers = answers_to(tolds, by=by, now=now) if tolds else []
    for name, given in zip(boxes, answers, strict=True):
        if error := given.error:
            errors[name] = error.message
    return errors


def _payload(place: Place, entered: Entered) -> dict[str, Any]:
    return {
        **_named(place),
        "text": entered.text,
        "unit": entered.unit,
        "dilution": entered.dilution,
        "confirmed": entered.confirmed,
        "version": entered.version,
    }


def _named(place: Place) -> dict[str, Any]:
    return {
        "line": place.line_key,
        "stage": place.stage_id,
        "tank": place.tank,
        "side": place.side,
    }


def decide_posted(
    record: ChecklistRecord, block: Block, post: QueryDict, *, by: User, now: datetime
) -> dict[str, str]:
    """The buttons beside one line: leave it open, pass over it, let it count again."""
    for word, work in (("skip", _skip), ("over", _pass_over), ("unover", _take_back)):
        if wanted := post.get(word):
            kind, payload, names = work(block, wanted, post)
            refusal = _told(record, kind, payload, by, now) if kind else None
            return dict.fromkeys(names, refusal.message) if refusal else {}
    return {}


def _told(
    record: ChecklistRecord, kind: str, payload: Mapping[str, Any], by: User, now: datetime
) -> JobsError | None:
    told = of_page(kind, payload, uuid=uuid4(), record=record)
    return answer_to(told, by=by, now=now).error


#: kind of the act, what is told with it, and the boxes that a refusal stands at
Told = tuple[str, dict[str, Any], list[str]]


def _skip(block: Block, wanted: str, post: QueryDict) -> Told:
    if (found := box_of(block, wanted)) is None:
        return "", {}, []
    item, side = found
    reason = post.get(f"{wanted}~skip", "")
    place = _named(Place(item.line.key, item.stage, side))
    return "skip", {**place, "reason": reason}, [wanted, f"{wanted}~skip"]


def _pass_over(block: Block, wanted: str, post: QueryDict) -> Told:
    payload = {
        "line": wanted,
        "reason": post.get(f"{wanted}~over", ""),
        "unplugged": f"{wanted}~unplugged" in post,
        "bypass": post.get(f"{wanted}~bypass", ""),
    }
    firsts = [i.box(i.sides[-1]) for i in block.items if i.line.key == wanted]
    return "override", payload, [name for one in firsts for name in (one, f"{one}~skip")]


def _take_back(block: Block, wanted: str, post: QueryDict) -> Told:
    return "override-back", {"line": wanted}, [wanted]
