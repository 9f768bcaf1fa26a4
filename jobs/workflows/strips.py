"""Strips of a van: a lot entered once, taken into use on a record, and what that proves."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import BadEntry, WrongState
from jobs.fieldwork import strips as judged
from jobs.models import ChecklistRecord, StripCheck, StripLot
from jobs.models.company import company_day
from jobs.records.loading import load_sheet

from .answers import open_and_allowed
from .log import log
from .moments import done_at

Band = tuple[float, float | None]


@dataclass(frozen=True)
class Strips:
    """What is said of them: a known lot or a new one with its expiry, and what they read."""

    lot: StripLot | None = None
    new_lot: str = ""
    expires_on: date | None = None
    blank: Band | None = None
    mix: Band | None = None


@transaction.atomic
def take_strips(
    *, record: ChecklistRecord, strips: Strips, by: User, now: datetime, at: datetime | None = None
) -> StripCheck:
    """These strips read from now on; what they read before stays as it was judged.

    Sent twice on one day they are one check.
    """
    record = open_and_allowed(record, by)
    oxidant = load_sheet(record, now=now).oxidant
    if not oxidant:
        raise WrongState("This system feeds no oxidant that strips could read.")
    lot = strips.lot or _entered(strips, oxidant, by=by, now=now)
    if lot.oxidant != oxidant:
        raise BadEntry(f"These strips read {lot.get_oxidant_display()}.", field="lot")
    blank, mix = strips.blank or (None, None), strips.mix or (None, None)
    check = StripCheck(
        record=record,
        lot=lot,
        blank_low_mg_l=blank[0],
        blank_high_mg_l=_top(blank),
        mix_low_mg_l=mix[0],
        mix_high_mg_l=_top(mix),
        at=done_at(record, at, now),
        by=by,
    )
    standing = in_use(record, at=check.at)
    if standing and _is_the_same(check, standing):
        return standing
    check.save()
    log(verb="strips_taken", subject=record, by=by, now=now, site=record.site, strips=str(lot))
    return check


SEEN = ("lot_id", "blank_low_mg_l", "blank_high_mg_l", "mix_low_mg_l", "mix_high_mg_l")


def _is_the_same(check: StripCheck, standing: StripCheck) -> bool:
    is_today = company_day(check.at) == company_day(standing.at)
    return is_today and all(getattr(check, name) == getattr(standing, name) for name in SEEN)


#: a band above the top pad has no upper end; a row cannot hold infinity
NO_END = 1e6


def _top(band: tuple[float | None, float | None]) -> float | None:
    return NO_END if band[0] is not None and band[1] is None else band[1]


def _entered(strips: Strips, oxidant: str, *, by: User, now: datetime) -> StripLot:
    name = strips.new_lot.strip()
    if not name:
        raise BadEntry("Choose the strips, or write the lot on their bottle.", field="lot")
    known = StripLot.objects.filter(oxidant=oxidant, lot__iexact=name).first()
    if known and strips.expires_on in (None, known.expires_on):
        return known
    if known:
        raise BadEntry(f"This lot is on file: {known}. Choose it from the list.", field="lot")
    if strips.expires_on is None:
        raise BadEntry("Say until when they are good.", field="expires_on")
    return StripLot.objects.create(
        oxidant=oxidant, lot=name[:40], expires_on=strips.expires_on, entered_at=now, entered_by=by
    )


def in_use(record: ChecklistRecord, *, at: datetime) -> StripCheck | None:
    """The strips that were taken last before that moment."""
    return in_use_on([record], at=at).get(record.pk)


def in_use_on(records: Collection[ChecklistRecord], *, at: datetime) -> dict[int, StripCheck]:
    """By number of the record."""
    rows = StripCheck.objects.filter(record__in=records, at__lte=at).select_related("lot")
    return {row.record_id: row for row in rows.order_by("at", "pk")}


def in_doubt(record: ChecklistRecord, *, at: datetime) -> tuple[StripLot | None, str]:
    """The strips of a reading, and why it is not used, "" where it is."""
    check = in_use(record, at=at)
    if check is None:
        return None, ""
    return check.lot, doubt_of(check, company_day(at))


def doubt_of(check: StripCheck, day: date) -> str:
    """What is wrong with these strips on that day."""
    blank = _read(check.blank_low_mg_l, check.blank_high_mg_l)
    mix = _read(check.mix_low_mg_l, check.mix_high_mg_l)
    return judged.doubt_of(judged.Checked(check.lot, check.lot.oxidant, blank, mix), day)


def _read(low: float | None, high: float | None) -> tuple[float, float] | None:
    if low is None or high is None:
        return None
    return low, math.inf if high >= NO_END else high
