"""Systems and their parts. Replacing a part ends one row and begins another."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import astuple, dataclass
from datetime import date, datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Stage, Train, Well
from jobs.errors import BadEntry, EditedMeanwhile, WrongState
from jobs.models import FollowUpRule
from jobs.models.company import company_day

from . import follow_ups, recalls
from .edits import save_edited
from .log import log
from .treated import raise_by_part


@transaction.atomic
def save_train(
    *, train: Train, wells: Iterable[Well], by: User, now: datetime, version: int | None = None
) -> Train:
    """Keep how a system is joined to its wells and how its feeder is switched."""
    if version is None:
        train.save()
        log(verb="created", subject=train, by=by, now=now, site=train.site)
    else:
        save_edited(row=train, version=version, by=by, now=now, site=train.site)
    train.wells.set(wells)
    return train


@transaction.atomic
def fit_stage(*, stage: Stage, by: User, now: datetime) -> Stage:
    """A new part at its place in the order; what stands there and after moves one place on."""
    if stage.fitted_on > company_day(now):
        raise BadEntry("The day of fitting lies ahead.", field="fitted_on")
    standing = Stage.objects.select_for_update().filter(
        train=stage.train, removed_on=None, position__gte=stage.position
    )
    places = {row.position: row for row in standing}
    last = stage.position
    while last in places:
        last += 1
    for position in range(last - 1, stage.position - 1, -1):  # from the back: places are unique
        moved = places[position]
        moved.position = position + 1
        moved.save()
    stage.save()
    log(verb="fitted", subject=stage, by=by, now=now, site=stage.train.site, kind=stage.kind)
    recalls.look_at(stage=stage, by=by, now=now)
    _announce(stage, by=by, now=now)
    return stage


@transaction.atomic
def replace_stage(*, old: Stage, new: Stage, by: User, now: datetime) -> Stage:
    """The old part ends on the day the new one is fitted in its place."""
    old = _end_stage(stage=old, on=new.fitted_on, by=by, now=now)
    new.train, new.position, new.replaces = old.train, old.position, old
    new.save()
    log(verb="replaced", subject=new, by=by, now=now, site=new.train.site, old=old.pk)
    recalls.part_out(stage=old, is_replaced=True, by=by, now=now)
    recalls.look_at(stage=new, by=by, now=now)
    _announce(new, by=by, now=now)
    return new


@transaction.atomic
def end_stage(*, stage: Stage, on: date, by: User, now: datetime) -> Stage:
    """A part is taken out for good; its row stays with the day, nobody comes back for it."""
    stage = _end_stage(stage=stage, on=on, by=by, now=now)
    recalls.part_out(stage=stage, is_replaced=False, by=by, now=now)
    follow_ups.end_with_parts(parts=[stage], on=on, by=by, now=now)
    return stage


def _end_stage(*, stage: Stage, on: date, by: User, now: datetime) -> Stage:
    stage = Stage.objects.select_for_update().select_related("train__site").get(pk=stage.pk)
    if stage.removed_on:
        raise WrongState("This part was taken out already.")
    if on < stage.fitted_on:
        raise BadEntry(
            f"It was fitted on {stage.fitted_on:%-d %B %Y}: choose that day or a later one.",
            field="fitted_on",
        )
    if on > company_day(now):
        raise BadEntry("The day lies ahead.", field="fitted_on")
    raise_by_part(stage, by=by, now=now)
    stage.removed_on = on
    stage.save()
    log(verb="took_out", subject=stage, by=by, now=now, site=stage.train.site)
    return stage


@dataclass(frozen=True)
class Marks:
    """What stands on the plate of one piece."""

    serial: str
    lot: str


@transaction.atomic
def mark_stage(*, stage: Stage, marks: Marks, seen: Marks, by: User, now: datetime) -> Stage:
    """Serial number and lot as read off the plate, or put right; `seen` is what the page showed."""
    stage = (
        Stage.objects.select_for_update(of=("self",)).select_related("train__site").get(pk=stage.pk)
    )
    kept = Marks(stage.serial, stage.lot)
    if marks == kept:
        return stage
    if seen != kept:
        words = ("Serial number", "Lot or batch")
        both = zip(words, astuple(marks), astuple(kept), strict=True)
        raise EditedMeanwhile(
            "Somebody else saved this meanwhile. Look at both, then save again.",
            differences=[row for row in both if row[1] != row[2]],
        )
    stage.serial, stage.lot = marks.serial, marks.lot
    stage.save()
    log(verb="marked", subject=stage, by=by, now=now, site=stage.train.site)
    recalls.look_at(stage=stage, by=by, now=now)
    return stage


def _announce(stage: Stage, *, by: User, now: datetime) -> None:
    follow_ups.happened(
        event=FollowUpRule.Event.STAGE_FITTED,
        about=follow_ups.About(stage.train.site, stage.train, stage),
        day=stage.fitted_on,
        by=by,
        now=now,
    )
