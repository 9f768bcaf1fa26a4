"""One act while it is done: who, when, about what, and what was told with it."""

from __future__ import annotations

import math
import uuid as uuids
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, TypeVar

from django.contrib.auth.models import User
from django.db.models import Model, QuerySet
from django.forms import BaseForm
from django.http import QueryDict

from jobs.access import has_role
from jobs.errors import BadEntry, NotAllowed, WrongState
from jobs.http import MOST_DIGITS, row_named
from jobs.models import ChecklistRecord, Visit

Row = TypeVar("Row", bound=Model)
ON_SITE = Visit.Status.ON_SITE
NOT_YOURS = "This visit is not yours any more: call the office."
CANCELLED = "This visit was cancelled: call the office before you go on."


@dataclass(frozen=True)
class Doing:
    by: User
    now: datetime
    payload: Mapping[str, Any]
    uuid: uuids.UUID
    at: datetime | None = None
    by_phone: bool = False
    #: when the facts were made that the phone worked with, as it says; "" on a page of the office
    kit_made: str = ""
    record: ChecklistRecord | None = None
    #: the name of the record as it was told, also of one that is only being opened
    record_name: uuids.UUID | None = None
    visit: Visit | None = None
    #: the version seen in its box, None: nobody looked
    base: int | None = None
    #: what the act that this one needs has made
    earlier: Mapping[str, Any] = field(default_factory=dict)

    @property
    def who(self) -> dict[str, Any]:
        """What every workflow of a technician takes."""
        return {"by": self.by, "now": self.now, "at": self.at}

    def the_record(self) -> ChecklistRecord:
        if self.record is None:
            raise BadEntry("This record is not known here: call the office.", field="record")
        return self.record

    def the_visit(self) -> Visit:
        """Own visits of a technician, any of the office; none that was cancelled."""
        visit = self.visit
        own = visit and self.by.pk in (visit.lead_id, visit.helper_id)
        if visit is None or not (own or has_role(self.by, "dispatcher")):
            raise NotAllowed(NOT_YOURS)
        if visit.status == Visit.Status.CANCELLED:
            raise WrongState(CANCELLED)
        return visit

    def text(self, name: str) -> str:
        said = self.payload.get(name, "")
        if not isinstance(said, str):
            raise unreadable(name)
        return said

    def whole(self, name: str) -> int | None:
        said = self.payload.get(name)
        if isinstance(said, str) and said.isascii() and said.isdigit():
            said = int(said) if len(said) <= MOST_DIGITS else said
        if said is None or said == "":
            return None
        if not isinstance(said, int) or isinstance(said, bool) or not 0 <= said < 10**MOST_DIGITS:
            raise unreadable(name)
        return said

    def figure(self, name: str, usual: float) -> float:
        said = self.payload.get(name, usual)
        if isinstance(said, bool) or not isinstance(said, int | float) or not math.isfinite(said):
            raise unreadable(name)
        return float(said)

    def said(self, name: str) -> bool:
        return self.payload.get(name) in (True, "on", "yes", "1")

    def row(self, rows: QuerySet[Row], name: str) -> Row:
        found = row_named(rows, self.payload.get(name))
        if found is None:
            raise NotAllowed("This is not known here, or not yours: call the office.")
        return found

    def post(self) -> QueryDict:
        """The payload as a form takes it."""
        post = QueryDict(mutable=True)
        for name, said in self.payload.items():
            values = said if isinstance(said, list) else [said]
            post.setlist(name, [_as_typed(value) for value in values if value not in (None, False)])
        return post


def _as_typed(value: object) -> str:
    return "on" if value is True else str(value)


def unreadable(name: str) -> BadEntry:
    return BadEntry(f"It cannot be read: {name[:40]}.", field=name)


Form = TypeVar("Form", bound=BaseForm)


def valid(form: Form) -> Form:
    """The form, or its first refusal."""
    if form.is_valid():
        return form
    name, said = next(iter(form.errors.items()))
    label = form.fields[name].label if name in form.fields else ""
    raise BadEntry(f"{label}: {said[0]}" if label else str(said[0]), field=str(name))


def must_be_kept(doing: Doing, name: str) -> Any:
    """What an earlier act has made under that name."""
    if name not in doing.earlier:
        raise WrongState("What this act needs was not kept.")
    return doing.earlier[name]


def visit_of(record: ChecklistRecord, user: User) -> Visit | None:
    """The visit this person is on: under way, else the newest that is not cancelled."""
    return visits_of([record.job_id], user).get(record.job_id)


def visits_of(jobs: Collection[int], user: User) -> dict[int, Visit]:
    """The same of several jobs, by job."""
    found: dict[int, Visit] = {}
    for visit in Visit.objects.of_technician(user).standing().filter(job__in=jobs):
        known = found.get(visit.job_id)
        if known is None or known.status != ON_SITE or visit.status == ON_SITE:
            found[visit.job_id] = visit
    return found
