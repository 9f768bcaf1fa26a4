"""Acts of technicians: each under its own name, with one effect however often it is told."""

from __future__ import annotations

import hashlib
import json
import uuid as uuids
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Site
from jobs.errors import BadEntry, JobsError, NotAllowed, OtherContent, OtherTime, PutMeanwhile
from jobs.models import Act, ActAnswer, ActNote, ChecklistRecord, Visit

from .log import log

State = ActAnswer.State


@dataclass(frozen=True)
class Sent:
    """An act as a page or a phone tells it; `box` is what it is about."""

    uuid: uuids.UUID
    kind: str
    box: str
    body: Mapping[str, Any]
    by_phone: bool = False
    #: when it was done, None: as it arrives
    at: datetime | None = None

    @property
    def sha256(self) -> str:
        """Of the body, whatever the order of its keys."""
        said = json.dumps(self.body, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        return hashlib.sha256(said.encode()).hexdigest()


@dataclass
class Done:
    """What came of one act: kept, kept against a rule, or why not; and what it is about."""

    refusal: JobsError | None = None
    #: of the box: what was seen there, and what stands there now where that is another
    base: int = 0
    version: int | None = None
    #: what the act made, named for acts that follow
    made: dict[str, Any] = field(default_factory=dict)
    said: str = ""
    against: str = ""
    record: ChecklistRecord | None = None
    visit: Visit | None = None
    site: Site | None = None


@dataclass(frozen=True)
class Given:
    """The answer to an act, the first one if it was told before."""

    uuid: uuids.UUID
    told: dict[str, Any]
    again: bool = False
    refusal: JobsError | None = None

    @property
    def is_kept(self) -> bool:
        return bool(self.told["state"] == State.KEPT)

    @property
    def sentence(self) -> str:
        return str(self.told.get("sentence", ""))

    @property
    def error(self) -> JobsError | None:
        """Why it was not kept, for the page that told it."""
        if self.is_kept or self.refusal:
            return self.refusal
        return BadEntry(self.sentence, field=str(self.told.get("field", "")))


@transaction.atomic
def take(
    *,
    sent: Sequence[Sent],
    work: Callable[[list[Sent]], list[Done]],
    by: User,
    now: datetime,
) -> list[Given]:
    """Answer each act; `work` does those that are new. Acts, effects and answers stand as one.

    Of two sendings at once the second waits at the name of the act and is given the first answer.
    Raises OtherContent where a name comes back with another content, NotAllowed where it is
    somebody else's.
    """
    Act.objects.bulk_create([_row(each, by, now) for each in sent], ignore_conflicts=True)
    names = [each.uuid for each in sent]
    rows = {row.uuid: row for row in Act.objects.filter(uuid__in=names).select_related("answer")}
    for each in sent:
        _must_be_the_same(rows[each.uuid], each, by)
    known = {name for name, row in rows.items() if hasattr(row, "answer")}
    fresh = [each for each in sent if each.uuid not in known]
    outcomes = dict(zip([each.uuid for each in fresh], work(fresh) if fresh else [], strict=True))
    answers = [_answer(rows[each.uuid], each, outcomes[each.uuid], now) for each in fresh]
    ActAnswer.objects.bulk_create(answers)
    made = {answer.act_id: answer for answer in answers}
    return [
        Given(name, row.answer.told, again=True)
        if name in known
        else Given(name, made[row.pk].told, refusal=outcomes[name].refusal)
        for name, row in ((name, rows[name]) for name in names)
    ]


def _row(sent: Sent, by: User, now: datetime) -> Act:
    return Act(
        uuid=sent.uuid,
        user=by,
        kind=sent.kind,
        box=sent.box[:200],
        body=sent.body,
        sha256=sent.sha256,
        by_phone=sent.by_phone,
        at=sent.at,
        received_at=now,
    )


def _must_be_the_same(row: Act, sent: Sent, by: User) -> None:
    if row.user_id != by.pk:
        raise NotAllowed("There is no such act.")
    if row.sha256 != sent.sha256:
        raise OtherContent("This was sent before with other content: open the page anew.")


def _answer(row: Act, sent: Sent, done: Done, now: datetime) -> ActAnswer:
    state, told = _told(sent, done)
    return ActAnswer(
        act=row,
        state=state,
        told={"state": str(state), **told},
        against=done.against[:300],
        record=done.record,
        visit=done.visit,
        site=done.site or (done.record.site if done.record else None),
        at=now,
    )


def _told(sent: Sent, done: Done) -> tuple[State, dict[str, Any]]:
    """State and words of an answer; its version is the one on which the teller stands now."""
    refusal = done.refusal
    if refusal is None:
        version = done.base if done.version is None else done.version
        words = {"sentence": done.said or done.against, "against": done.against}
        return State.KEPT, {
            "version": version,
            **{name: said for name, said in words.items() if said},
            **done.made,
        }
    told: dict[str, Any] = {"version": done.base, "sentence": refusal.message}
    if isinstance(refusal, PutMeanwhile):
        mine = {name: sent.body.get("payload", {}).get(name) for name in refusal.theirs}
        told |= {"standing": refusal.standing, "by": refusal.by}
        return State.LOOK, {**told, "theirs": dict(refusal.theirs), "mine": mine}
    if refusal.differences:
        told |= {"differences": [list(row) for row in refusal.differences]}
        return State.LOOK, told
    if isinstance(refusal, OtherTime):
        return State.LOOK, {**told, "field": "at", "asks": "at"}
    return State.REFUSED, {**told, "field": refusal.field, **refusal.offer}


@transaction.atomic
def note_act(*, act: Act, words: str, by: User, now: datetime) -> ActNote:
    """Take note of an act that was not applied, with what becomes of it; once."""
    if not words.strip():
        raise BadEntry("Say what becomes of it.", field="words")
    note, is_new = ActNote.objects.get_or_create(
        act=act, defaults={"words": words.strip()[:200], "by": by, "at": now}
    )
    if is_new:
        log(verb="act_noted", subject=act, by=by, now=now, site=act.answer.site)
    return note
