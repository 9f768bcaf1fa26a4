"""Recalls: opened, kept in step with what stands in the houses, worked off piece by piece.

A piece is open until its part is replaced or taken out, its mark shows that it is none of them,
or somebody says with a reason how it was worked off; each open one has its promise of a visit.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Fill, Site, Stage
from jobs.access import has_role
from jobs.errors import BadEntry, NotAllowed, WrongState
from jobs.mail.about import part_recalled
from jobs.mail.recipients import told_of_water
from jobs.models import Customer, FollowUpRule, Recall, RecalledPiece, RecallTold
from jobs.models.company import company_day
from jobs.models.pieces import fills_of, stages_of

from . import follow_ups
from .log import log
from .reasons import SHORT, reason_given
from .samples import only_one_to_tell
from .telling import Adult

End = RecalledPiece.End


@transaction.atomic
def open_recall(*, recall: Recall, by: User, now: datetime) -> Recall:
    """Every piece that stands somewhere is on its list, and is promised a visit."""
    recall.opened_at, recall.opened_by = now, by
    recall.save()
    log(verb="recall_opened", subject=recall, by=by, now=now)
    for stage, fill in _found(recall):
        _take_in(recall, stage, fill, by=by, now=now)
    return recall


def would_find(recall: Recall) -> tuple[int, int]:
    """Before it is opened: how many pieces, and at how many houses."""
    rows = [stage.train.site_id for stage, _ in _found(recall)]
    return len(rows), len(set(rows))


def _found(recall: Recall, *, at: Stage | None = None) -> Iterator[tuple[Stage, Fill | None]]:
    """Parts of it, those that may be of it for want of a mark, and tanks filled with it."""
    sought, unmarked = recall.sought, recall.unmarked
    parts = stages_of(sought)
    if unmarked:
        parts = parts | stages_of(unmarked).filter(**{recall.marks: ""})
    fills = fills_of(sought)
    if at:
        parts, fills = parts.filter(pk=at.pk), fills.filter(stage=at)
    yield from ((part, None) for part in parts.select_related("train__site").order_by("pk"))
    fills = fills.select_related("stage__train__site").order_by("pk")
    yield from ((fill.stage, fill) for fill in fills)


def _take_in(
    recall: Recall, stage: Stage, fill: Fill | None, *, by: User, now: datetime
) -> RecalledPiece:
    piece, is_new = RecalledPiece.objects.get_or_create(
        recall=recall,
        stage=stage,
        fill=fill,
        defaults={"site": stage.train.site, "found_at": now},
    )
    if is_new:
        _promise(piece, by=by, now=now)
    return piece


def _promise(piece: RecalledPiece, *, by: User, now: datetime) -> None:
    stage = piece.stage
    follow_ups.happened(
        event=FollowUpRule.Event.PART_RECALLED,
        about=follow_ups.About(stage.train.site, stage.train, stage),
        day=company_day(now),
        by=by,
        now=now,
    )


# --- kept in step ---------------------------------------------------------------------------------


@transaction.atomic
def look_at(*, stage: Stage, by: User, now: datetime) -> None:
    """A part is fitted, its mark is read, its tank is filled: which recalls is it of?"""
    for recall in Recall.objects.standing():
        pieces = recall.pieces.select_for_update(of=("self",)).filter(stage=stage)
        known = {
            piece.fill_id: piece for piece in pieces.select_related("fill", "stage__train__site")
        }
        there = [fill for _, fill in _found(recall, at=stage)]
        for fill in there:
            piece = known.get(fill.pk if fill else None)
            if piece is None:
                _take_in(recall, stage, fill, by=by, now=now)
            elif piece.end == End.OTHER_MARK:
                _stands_again(piece, by=by, now=now)
        part = known.get(None)
        if part and not part.end and None not in there:
            why = f"as read: {getattr(stage, recall.marks)}"
            _end(part, End.OTHER_MARK, why, by=by, now=now)
        for piece in known.values():
            if piece.fill and not piece.end and hasattr(piece.fill, "corrected_by"):
                _end(piece, End.OTHER_MARK, "the fill was corrected", by=by, now=now)


@transaction.atomic
def part_out(*, stage: Stage, is_replaced: bool, by: User, now: datetime) -> None:
    """Whatever was called back of it has left the house."""
    end = End.REPLACED if is_replaced else End.GONE
    for piece in _open_of(stage):
        _end(piece, end, "", by=by, now=now)
    reason = str(end.label)
    follow_ups.close_by_part(stage=stage, is_out=True, reason=reason, by=by, now=now)


@transaction.atomic
def part_back(*, stage: Stage, by: User, now: datetime) -> None:
    """It was never taken out: what is called back of it is open as before."""
    rows = RecalledPiece.objects.select_for_update(of=("self",)).filter(stage=stage, end=End.GONE)
    for piece in rows.select_related("recall", "stage__train__site"):
        _stands_again(piece, by=by, now=now)


def _open_of(stage: Stage) -> list[RecalledPiece]:
    rows = RecalledPiece.objects.select_for_update(of=("self",)).filter(stage=stage, end="")
    return list(rows.select_related("stage__train__site"))


def _end(piece: RecalledPiece, end: End, why: str, *, by: User, now: datetime) -> None:
    piece.end, piece.ended_why = end, why[:200]
    piece.ended_at, piece.ended_by = now, by
    piece.save()
    log(
        verb="recalled_ended",
        subject=piece,
        by=by,
        now=now,
        site=piece.site,
        reason=why,
        end=end.label,
    )
    if not RecalledPiece.objects.open().filter(stage=piece.stage_id).exists():
        reason = str(end.label)
        follow_ups.close_by_part(stage=piece.stage, is_out=False, reason=reason, by=by, now=now)


def _stands_again(piece: RecalledPiece, *, by: User, now: datetime, why: str = "") -> None:
    """Its recall with it, where that was closed meanwhile."""
    piece.end, piece.ended_why, piece.ended_at, piece.ended_by = "", "", None, None
    piece.save()
    log(verb="recalled_again", subject=piece, by=by, now=now, site=piece.site, reason=why)
    if piece.recall.closed_at:
        _open_again(piece.recall, why=why, by=by, now=now)
    _promise(piece, by=by, now=now)


# --- by hand --------------------------------------------------------------------------------------


@transaction.atomic
def settle(*, piece: RecalledPiece, end: str, why: str, by: User, now: datetime) -> RecalledPiece:
    """Somebody says how it was worked off where no act on the part says it."""
    piece = _locked(piece)
    if piece.end:
        raise WrongState(f"This is worked off already: {piece.get_end_display()}.")
    if end not in RecalledPiece.BY_HAND:
        raise BadEntry("Choose how it was worked off.", field="end")
    if end == End.GIVEN_UP and not has_role(by, "owner"):
        raise NotAllowed("Only the owner gives up a part that stands in a house.")
    if end == End.REPLACED and piece.fill_id is None:
        raise BadEntry(
            "Replace the part on the page of the house, with the lot of the new one: this list "
            "follows by itself.",
            field="end",
        )
    _end(piece, End(end), _explained(why), by=by, now=now)
    return piece


@transaction.atomic
def take_back(*, piece: RecalledPiece, why: str, by: User, now: datetime) -> RecalledPiece:
    """It was not worked off after all."""
    piece = _locked(piece)
    if not piece.end:
        return piece
    if piece.stage.removed_on:
        raise WrongState("This part has left the house: what stands there now is another one.")
    _stands_again(piece, by=by, now=now, why=_explained(why))
    return piece


def _locked(piece: RecalledPiece) -> RecalledPiece:
    rows = RecalledPiece.objects.select_for_update(of=("self",))
    return rows.select_related("recall", "site", "stage__train__site").get(pk=piece.pk)


def _explained(why: str) -> str:
    return reason_given(why, "Say how.", least=SHORT, field="why")


@transaction.atomic
def close_recall(*, recall: Recall, by: User, now: datetime) -> Recall:
    """Only when every piece has its end."""
    recall = Recall.objects.select_for_update(of=("self",)).get(pk=recall.pk)
    if recall.closed_at:
        return recall
    houses = len(set(recall.pieces.filter(end="").values_list("site", flat=True)))
    if houses:
        raise WrongState(
            f"{houses} house{'' if houses == 1 else 's'} of this list "
            f"{'is' if houses == 1 else 'are'} not worked off."
        )
    recall.closed_at, recall.closed_by = now, by
    recall.save()
    log(verb="recall_closed", subject=recall, by=by, now=now)
    return recall


@transaction.atomic
def open_again(*, recall: Recall, why: str, by: User, now: datetime) -> Recall:
    """Closed too early: what was fitted or filled meanwhile is looked for anew."""
    recall = Recall.objects.select_for_update(of=("self",)).get(pk=recall.pk)
    if recall.closed_at is None:
        return recall
    _open_again(recall, why=_explained(why), by=by, now=now)
    for stage, fill in _found(recall):
        _take_in(recall, stage, fill, by=by, now=now)
    return recall


def _open_again(recall: Recall, *, why: str, by: User, now: datetime) -> None:
    recall.closed_at, recall.closed_by = None, None
    recall.save()
    log(verb="recall_open_again", subject=recall, by=by, now=now, reason=why)


# --- told -----------------------------------------------------------------------------------------


@transaction.atomic
def tell(
    *,
    recall: Recall,
    site: Site,
    adult: Adult,
    by: User,
    now: datetime,
    customer: Customer | None = None,
) -> RecallTold:
    """An adult of the house knows, by name; the first telling stands."""
    Recall.objects.select_for_update(of=("self",)).get(pk=recall.pk)
    if not recall.pieces.filter(site=site).exists():
        raise WrongState("Nothing at this house is called back.")
    adult.check()
    customer = customer or only_one_to_tell(site)
    rows = RecallTold.objects.filter(recall=recall, site=site, customer=customer, mail=None)
    if before := rows.first():
        return before
    told = RecallTold.objects.create(
        recall=recall, site=site, customer=customer, **adult.kept, at=now, by=by
    )
    log(verb="recall_told", subject=recall, by=by, now=now, site=site, how=adult.how)
    return told


@transaction.atomic
def write_letters(*, recall: Recall, by: User, now: datetime) -> int:
    """A letter to each with a mail address who does not know yet; who has none is called."""
    recall = Recall.objects.select_for_update(of=("self",)).get(pk=recall.pk)
    if recall.closed_at:
        raise WrongState("This recall is closed: nobody is written to.")
    sites = {p.site_id: p.site for p in recall.pieces.open().untold().select_related("site")}
    made = 0
    for site in sites.values():
        rows = RecallTold.objects.filter(recall=recall, site=site)
        known = set(rows.values_list("customer", flat=True))
        for customer in told_of_water(site, on=company_day(now)).people:
            if customer.pk in known:
                continue
            mail = part_recalled.write(recall=recall, site=site, customer=customer, now=now)
            if mail:
                RecallTold.objects.create(
                    recall=recall, site=site, customer=customer, mail=mail, at=now, by=by
                )
                made += 1
    if made:
        log(verb="recall_written", subject=recall, by=by, now=now)
    return made
