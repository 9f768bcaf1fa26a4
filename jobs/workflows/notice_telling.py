"""Who knows of a notice, and a notice of the wrong house taken back: each told by name."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Sample, Site
from jobs.errors import BadEntry, WrongState
from jobs.mail.about import notice_taken_back
from jobs.models import (
    ChecklistRecord,
    Customer,
    DoNotUse,
    FollowUp,
    FollowUpRule,
    NoticeTold,
    PourTold,
    SiteTenure,
)
from jobs.models.company import company_day
from jobs.models.notice_told import SAID_BY_US

from . import follow_ups
from .log import log
from .reasons import explained
from .samples import only_one_to_tell
from .telling import Adult


@transaction.atomic
def tell_notice(
    *,
    notice: DoNotUse,
    site: Site,
    adult: Adult,
    by: User,
    now: datetime,
    customer: Customer | None = None,
) -> NoticeTold:
    """An adult of one house under it knows, by name; the first telling stands.

    Of a notice that was taken back they are told that instead.
    """
    notice = _locked(notice)
    is_back = bool(notice.taken_back_why)
    if notice.lifted_at and not is_back:
        raise WrongState("This notice was lifted meanwhile: tell them that it is over.")
    adult.check()
    customer = customer or only_one_to_tell(site)
    rows = NoticeTold.objects.filter(notice=notice, customer=customer, is_taken_back=is_back)
    before: NoticeTold | None = (rows if customer else rows.filter(site=site)).first()
    if before:
        return before
    told = NoticeTold.objects.create(
        notice=notice,
        site=site,
        customer=customer,
        is_taken_back=is_back,
        **adult.kept,
        at=now,
        by=by,
    )
    verb = "taken_back_told" if is_back else "notice_told"
    log(verb=verb, subject=notice, by=by, now=now, site=site, how=adult.how)
    return told


def tell_caller(
    *, occasion: UUID, site: Site, adult: Adult, customer: Customer, by: User, now: datetime
) -> None:
    """Whoever called heard it while it was opened, and said it back: nobody calls them again."""
    hears = SiteTenure.objects.open().told_of_water().filter(site=site, customer=customer)
    if not adult.number or not hears.exists():
        return
    rows = DoNotUse.objects.standing().filter(occasion=occasion, site=site, cause__in=SAID_BY_US)
    for notice in rows:
        tell_notice(notice=notice, site=site, adult=adult, customer=customer, by=by, now=now)


@transaction.atomic
def take_back_notice(*, notice: DoNotUse, reason: str, by: User, now: datetime) -> DoNotUse:
    """Raised at the wrong house: it ends under a name, and counts as lifted by nothing.

    With it go those that the same call opened at other wells of the house. What was promised
    because of it is given up; who heard of it is written to once, or is called.
    """
    notice = _locked(notice)
    if notice.taken_back_why:
        return notice
    if notice.lifted_at:
        raise WrongState("This notice is lifted already.")
    reason = explained(reason)
    together = [notice, *_of_other_wells(notice)]
    for each in together:
        _refuse_where_it_is_true(each)
        each.taken_back_why, each.lifted_at, each.lifted_by = reason, now, by
        each.save()
    for promise in promised_by(notice):
        follow_ups.waive(
            follow_up=promise, reason=f"notice taken back: {reason}"[:200], by=by, now=now
        )
    log(verb="notice_taken_back", subject=notice, by=by, now=now, site=notice.site, reason=reason)
    notice_taken_back.write(notices=together, now=now)
    return notice


def _of_other_wells(notice: DoNotUse) -> list[DoNotUse]:
    """Of a call on which nobody could say which well is meant."""
    if notice.occasion is None:
        return []
    rows = DoNotUse.objects.select_for_update(of=("self",)).standing().exclude(pk=notice.pk)
    of_it = rows.filter(occasion=notice.occasion, site=notice.site, cause=notice.cause)
    return list(of_it.select_related("site", "well"))


def _refuse_where_it_is_true(notice: DoNotUse) -> None:
    """What was found in a bottle or poured into the pipes is there, whoever wrote the notice."""
    at_house = {"well": notice.well} if notice.well else {"site": notice.site}
    since = company_day(notice.opened_at)
    if Sample.objects.found().filter(**at_house, result_on__gte=since).exists():
        raise WrongState("Bacteria were found in a sample of this water: it is lifted on samples.")
    if notice.cause not in SAID_BY_US:
        raise BadEntry(
            "What was found in a sample, or poured, is no mistake about the house: lift it on its "
            "own evidence.",
            field="reason",
        )
    if ChecklistRecord.objects.filter(uuid__in=[notice.occasion]).exists():
        raise WrongState("It was opened in the record of work at this house: lift it there.")
    if PourTold.objects.filter(site=notice.site, at__gte=notice.opened_at).exists():
        raise WrongState("Chlorine was poured here since: read the taps and lift it.")


def promised_by(notice: DoNotUse) -> list[FollowUp]:
    """What the same call promised at this house; what a visit carries is settled with the visit."""
    if notice.occasion is None:
        return []
    rows = FollowUp.objects.open().filter(
        site=notice.site, visit=None, details__event=FollowUpRule.Event.DANGER_TOLD
    )
    return list(rows.filter(made_at=notice.opened_at).select_related("terms"))


def _locked(notice: DoNotUse) -> DoNotUse:
    rows = DoNotUse.objects.select_for_update(of=("self",)).select_related("site", "well")
    return rows.get(pk=notice.pk)
