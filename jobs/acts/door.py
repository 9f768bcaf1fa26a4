"""The one door: an act as JSON, or from a page, to its answer."""

from __future__ import annotations

import json
import uuid as uuids
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.utils.dateparse import parse_datetime

from jobs.errors import JobsError, WrongState
from jobs.http import MOST_DIGITS
from jobs.models import ActAnswer, ChecklistRecord, Visit
from jobs.workflows.acts import Done, Given, Sent, take

from .doing import Doing, unreadable
from .kinds import KINDS
from .on_records import answer_all

#: shapes of acts that are taken; a phone with an older one renews its pages first
OLDEST_ACT, NEWEST_ACT = 1, 1
LONGEST = 64 * 1024
#: nested deeper than any act
DEEPEST = 6
#: whoever tells an act within this time of doing it waits for the answer, and hears a refusal
#: before going on; what is told later has happened
LIVE = timedelta(seconds=30)


class Unreadable(Exception):
    """What was sent is no act."""


class OldAct(Exception):
    """An act of a shape that is not taken any more."""


class Earlier(Exception):
    """It needs an act that has not come yet."""

    def __init__(self, uuid: uuids.UUID) -> None:
        self.uuid = uuid
        super().__init__(str(uuid))


@dataclass(frozen=True)
class Told:
    """An act with what it names; rows are looked up when it is done."""

    sent: Sent
    record: uuids.UUID | None = None
    visit: int | None = None
    after: uuids.UUID | None = None
    needs: uuids.UUID | None = None

    @property
    def payload(self) -> Mapping[str, Any]:
        return dict(self.sent.body["payload"])


# --- from JSON --------------------------------------------------------------------------------


def read(text: bytes | str) -> Told:
    """One act as a phone tells it. Raises Unreadable and OldAct."""
    try:
        body = json.loads(text, parse_constant=_no_number)
        _check_words(body, DEEPEST)
    except (ValueError, RecursionError) as error:
        raise Unreadable from error
    if not isinstance(body, dict) or not isinstance(body.get("payload"), dict):
        raise Unreadable
    number = body.get("act")
    if not isinstance(number, int) or number > NEWEST_ACT:
        raise Unreadable
    if number < OLDEST_ACT:
        raise OldAct
    name, kind = _uuid(body.get("uuid")), body.get("kind")
    if name is None or not isinstance(kind, str) or not isinstance(body.get("user"), int):
        raise Unreadable
    return _told(name, kind[:20], body, at=_moment(body.get("at")))


def person_of(told: Told) -> int:
    return int(told.sent.body["user"])


def _no_number(said: str) -> float:
    raise ValueError(said)


def _check_words(said: object, deep: int) -> None:
    """Nothing that one of the databases cannot keep, nothing deeper than an act is."""
    if deep < 0:
        raise ValueError("too deep")
    if isinstance(said, str):
        said.encode()
        if "\0" in said:
            raise ValueError("a character cannot be kept")
    elif isinstance(said, dict):
        for name, value in said.items():
            _check_words(name, deep)
            _check_words(value, deep - 1)
    elif isinstance(said, list):
        for value in said:
            _check_words(value, deep - 1)
    elif isinstance(said, int) and abs(said) >= 10**MOST_DIGITS:
        raise ValueError("too large")


def _uuid(said: object) -> uuids.UUID | None:
    if said in (None, ""):
        return None
    try:
        return uuids.UUID(str(said))
    except ValueError as error:
        raise Unreadable from error


def _moment(said: object) -> datetime:
    try:
        at = parse_datetime(str(said))
    except ValueError as error:
        raise Unreadable from error
    if at is None or at.tzinfo is None:
        raise Unreadable
    try:
        return at.astimezone(UTC)
    except OverflowError as error:
        raise Unreadable from error


def _told(name: uuids.UUID, kind: str, body: dict[str, Any], *, at: datetime | None) -> Told:
    visit = body.get("visit")
    whole = isinstance(visit, int) and not isinstance(visit, bool)
    record, payload = _uuid(body.get("record")), body["payload"]
    about = f"record:{record}" if record else f"visit:{visit}" if whole else ""
    words = {**payload, "uuid": str(name), "needs": str(body.get("needs") or "")}
    box = KINDS[kind].box_of(about, words) if kind in KINDS else about
    sent = Sent(name, kind, box, body, at=at)
    return Told(
        sent, record, visit if whole else None, _uuid(body.get("after")), _uuid(body.get("needs"))
    )


# --- from a page ------------------------------------------------------------------------------


def of_page(
    kind: str,
    payload: Mapping[str, Any],
    *,
    uuid: uuids.UUID,
    record: ChecklistRecord | None = None,
    visit: Visit | None = None,
) -> Told:
    """An act that is told while it is done, by a page without script."""
    body = {
        "uuid": str(uuid),
        "kind": kind,
        "record": str(record.uuid) if record else None,
        "visit": visit.pk if visit else None,
        "payload": dict(payload),
    }
    return _told(uuid, kind, body, at=None)


# --- done -------------------------------------------------------------------------------------


def answer_to(told: Told, *, by: User, now: datetime) -> Given:
    """Raises Earlier, and OtherContent and NotAllowed of the name of an act."""
    return answers_to([told], by=by, now=now)[0]


def answers_to(several: Sequence[Told], *, by: User, now: datetime) -> list[Given]:
    """Answers of one page on one record are kept in one go; everything else comes alone."""
    several = [_live_or_later(told, now) for told in several]
    by_name = {told.sent.uuid: told for told in several}

    def work(fresh: list[Sent]) -> list[Done]:
        return _do([by_name[sent.uuid] for sent in fresh], by, now)

    return take(sent=[told.sent for told in several], work=work, by=by, now=now)


def _live_or_later(told: Told, now: datetime) -> Told:
    at = told.sent.at
    by_phone = at is not None and now - at > LIVE
    return replace(told, sent=replace(told.sent, by_phone=by_phone))


def _do(several: Sequence[Told], by: User, now: datetime) -> list[Done]:
    doings = [_doing(told, by, now) for told in several]
    kinds = [told.sent.kind for told in several]
    try:
        with transaction.atomic():
            done = answer_all(doings) if len(doings) > 1 else [_run(kinds[0], doings[0])]
    except JobsError as refusal:
        done = [Done(refusal=refusal) for _ in doings]
    for one, doing in zip(done, doings, strict=True):
        one.base = doing.base or 0
        one.record = one.record or doing.record
        one.visit = one.visit or doing.visit
        if one.site is None and one.record is None and one.visit:
            one.site = one.visit.job.site
    return done


def _run(kind: str, doing: Doing) -> Done:
    if kind not in KINDS:
        raise unreadable("kind")
    if "refused" in doing.earlier:
        raise WrongState("What this act needs was not kept.")
    return KINDS[kind].run(doing)


def _doing(told: Told, by: User, now: datetime) -> Doing:
    after, needs = _earlier(told.after, by), _earlier(told.needs, by)
    seen = told.payload.get("version")
    base = seen if isinstance(seen, int) and not isinstance(seen, bool) else None
    if base is None and told.sent.by_phone:
        base = 0
    doing = Doing(
        by=by,
        now=now,
        payload=told.payload,
        uuid=told.sent.uuid,
        at=told.sent.at,
        by_phone=told.sent.by_phone,
        kit_made=str(told.sent.body.get("kit") or ""),
        record=_record(told.record, by),
        record_name=told.record,
        visit=_visit(told, by),
        base=int(after["version"]) if after else base,
    )
    return replace(doing, earlier=_made(needs)) if needs else doing


def _made(told: Mapping[str, Any]) -> Mapping[str, Any]:
    return told if told["state"] == ActAnswer.State.KEPT else {"refused": True}


def _earlier(name: uuids.UUID | None, by: User) -> Mapping[str, Any]:
    """The answer to an act of the same person. Raises Earlier where there is none."""
    if name is None:
        return {}
    row = ActAnswer.objects.filter(act__uuid=name, act__user=by).first()
    if row is None:
        raise Earlier(name)
    return dict(row.told)


def _visit(told: Told, by: User) -> Visit | None:
    """The one it names, else that of the act it needs: so the office reads it with its house."""
    rows = Visit.objects.with_job()
    if told.visit:
        return rows.filter(pk=told.visit).first()
    if told.needs is None:
        return None
    return rows.filter(acts__act__uuid=told.needs, acts__act__user=by).first()


def _record(name: uuids.UUID | None, by: User) -> ChecklistRecord | None:
    """By its own name, or by the one that a phone gave it when it stood already."""
    if name is None:
        return None
    rows = ChecklistRecord.objects.select_related("site", "train", "template", "job")
    found = rows.filter(uuid=name).first()
    if found:
        return found
    opened = ActAnswer.objects.filter(
        act__kind="record-open", act__user=by, act__body__record=str(name)
    )
    answer = opened.exclude(record=None).first()
    return rows.get(pk=answer.record_id) if answer and answer.record_id else None
