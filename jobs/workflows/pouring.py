"""All told: pour. Chlorine goes into a well when every house on it knows and is ready."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Site, SpecialUse
from jobs.errors import BadEntry, WrongState
from jobs.fieldwork.keys import DONE_HERE, LineKey
from jobs.models import ChecklistRecord, DoNotUse, PourTold
from jobs.models.company import company_day

from .answers import open_and_allowed
from .log import log
from .moments import done_at
from .notices import Danger, open_notice
from .shared_water import houses_on, refuse_for_dialysis
from .telling import Adult

NOBODY = Adult("", "")
#: parts of a telling, and what their boxes begin with; the number of the house stands behind
BOXES = {"whom": "told", "how": "how", "number": "number", "read_back": "read_back"}
WHY = "chlorine in well and plumbing"
NOBODY_TOLD = f"{WHY}; nobody here was told before it was poured"


def houses_of(record: ChecklistRecord) -> list[Site]:
    """Every house that gets this water, the one of the record first."""
    return houses_on(record.site, record.train)


@transaction.atomic
def note_uses(*, site: Site, kinds: Iterable[str], by: User, now: datetime) -> None:
    """Special uses that somebody named when asked; what is on file stays."""
    for kind in kinds:
        use, is_new = SpecialUse.objects.get_or_create(
            site=site, kind=kind, ended_on=None, defaults={"noted_on": company_day(now)}
        )
        if is_new:
            log(verb="use_noted", subject=use, by=by, now=now, site=site, kind=kind)


@transaction.atomic
def all_told(
    *,
    record: ChecklistRecord,
    told: Mapping[int, Adult],
    by: User,
    now: datetime,
    at: datetime | None = None,
    is_in_already: bool = False,
) -> list[PourTold]:
    """Who was told at each house; "do not use" stands at all of them from now on.

    Chlorine that is in already is kept, also where nobody was told: the notice of that house says
    so. Pressed again, what was missing of a telling is added, and one that was noted wrongly is
    put right.
    """
    record = open_and_allowed(record, by)
    moment = done_at(record, at, now)
    if record.answers.filter(line_key=LineKey.DISINFECT_SCOPE, text=DONE_HERE).first() is None:
        raise WrongState("Say first that the disinfection is done here, in this job.")
    if not is_in_already:
        refuse_for_dialysis(site=record.site, train=record.train)
    rows = []
    for site in houses_of(record):
        adult = told.get(site.pk, NOBODY)
        if not is_in_already:
            _check(adult, site)
        rows.append(_told(record, site, adult, by=by, now=now, at=moment))
        open_notice(
            danger=Danger(
                site=site,
                level=DoNotUse.Level.NO_USE,
                cause=DoNotUse.Cause.OXIDANT,
                occasion=record.uuid,
                reason=WHY if rows[-1].is_told else NOBODY_TOLD,
            ),
            by=by,
            now=now,
            at=moment,
        )
    log(
        verb="poured",
        subject=record,
        by=by,
        now=now,
        site=record.site,
        untold=sum(1 for row in rows if not row.is_told),
    )
    return rows


def _check(adult: Adult, site: Site) -> None:
    try:
        adult.check()
    except BadEntry as refusal:
        said = f"{site}: {refusal.message}"
        raise BadEntry(said, field=f"{BOXES[refusal.field]}-{site.pk}") from refusal


def _told(
    record: ChecklistRecord, site: Site, adult: Adult, *, by: User, now: datetime, at: datetime
) -> PourTold:
    """The telling of one house; what is whole is changed by another whole one only."""
    said: dict[str, Any] = dict.fromkeys(("whom", "how", "number"), "")
    if adult.whom.strip():
        way = {**adult.kept, "read_back": adult.read_back, "told_at": at, "told_by": by}
        said = way if adult.is_asked else {"whom": adult.kept["whom"]}
    row, is_new = PourTold.objects.get_or_create(
        record=record, site=site, defaults={**said, "at": at, "by": by}
    )
    if is_new or not adult.whom.strip() or _stands(row, adult, at):
        return row
    for name, value in said.items():
        setattr(row, name, value)
    row.save()
    if row.is_told:
        standing = DoNotUse.objects.standing().filter(site=site, reason=NOBODY_TOLD)
        standing.update(reason=WHY)
    log(verb="pour_told", subject=row, by=by, now=now, site=site, how=row.how)
    return row


def _stands(row: PourTold, adult: Adult, at: datetime) -> bool:
    """The telling as it is kept is the same, a newer one, or says more than the one that comes."""
    known = (row.whom, row.how, row.number, row.read_back)
    if known == (*adult.kept.values(), adult.read_back):
        return True
    is_older = row.told_at is not None and at < row.told_at
    return row.is_told and (is_older or not (adult.is_asked and adult.read_back and adult.how))
