"""All told: pour. Chlorine goes into a well when every house on it knows and is ready."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime

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
    told: Mapping[int, str],
    by: User,
    now: datetime,
    at: datetime | None = None,
    is_in_already: bool = False,
) -> list[PourTold]:
    """Who was told at each house; "do not use" stands at all of them from now on.

    Chlorine that is in already is kept, also where nobody was told: the notice of that house says
    so. Pressed again, names that were missing are added.
    """
    record = open_and_allowed(record, by)
    moment = done_at(record, at, now)
    if record.answers.filter(line_key=LineKey.DISINFECT_SCOPE, text=DONE_HERE).first() is None:
        raise WrongState("Say first that the disinfection is done here, in this job.")
    if not is_in_already:
        refuse_for_dialysis(site=record.site, train=record.train)
    rows = []
    for site in houses_of(record):
        whom = told.get(site.pk, "").strip()[:120]
        if not whom and not is_in_already:
            raise BadEntry(f"Name the adult who was told at {site}.", field=f"told-{site.pk}")
        rows.append(_told(record, site, whom, by=by, at=moment))
        open_notice(
            danger=Danger(
                site=site,
                level=DoNotUse.Level.NO_USE,
                cause=DoNotUse.Cause.OXIDANT,
                occasion=record.uuid,
                reason=WHY if whom else NOBODY_TOLD,
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
        untold=sum(1 for row in rows if not row.whom),
    )
    return rows


def _told(record: ChecklistRecord, site: Site, whom: str, *, by: User, at: datetime) -> PourTold:
    row, is_new = PourTold.objects.get_or_create(
        record=record, site=site, defaults={"whom": whom, "at": at, "by": by}
    )
    if not is_new and whom and not row.whom:
        row.whom = whom
        row.save(update_fields=["whom"])
        standing = DoNotUse.objects.standing().filter(site=site, reason=NOBODY_TOLD)
        standing.update(reason=WHY)
    return row
