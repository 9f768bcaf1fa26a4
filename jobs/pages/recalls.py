"""A recall as its page shows it: each piece with who knows, its visit, how it was worked off."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db.models import Count, Q, QuerySet

from jobs.models import (
    Customer,
    FollowUp,
    FollowUpRule,
    Recall,
    RecalledPiece,
    RecallTold,
    SiteTenure,
)
from jobs.models.company import company_day
from jobs.reports.tables import Table, Value, table
from jobs.wording.names import person

End = RecalledPiece.End
NO_VISIT, LOOK, BOOKED = "no visit", "to look at", "visit booked"


@dataclass
class Row:
    """One piece at one house."""

    piece: RecalledPiece
    told: list[RecallTold] = field(default_factory=list)
    is_untold: bool = True
    promise: FollowUp | None = None
    customer: Customer | None = None

    @property
    def is_to_look_at(self) -> bool:
        recall, piece = self.piece.recall, self.piece
        mark = getattr(piece.stage, recall.marks)
        return bool(recall.first and not mark and piece.fill_id is None)

    @property
    def state(self) -> str:
        """In one word how it stands."""
        if self.piece.end:
            return str(self.piece.get_end_display())
        if self.promise and self.promise.visit:
            return BOOKED
        return LOOK if self.is_to_look_at else NO_VISIT


@dataclass(frozen=True)
class Counts:
    """Of the whole list, each with its word."""

    pieces: int
    houses: int
    open_houses: int
    untold: int
    said: tuple[tuple[str, int], ...]


def rows_of(pieces: Iterable[RecalledPiece], today: date) -> list[Row]:
    """Three queries more, however many pieces."""
    found = [Row(piece) for piece in pieces]
    sites = {row.piece.site_id for row in found}
    stages = {row.piece.stage_id for row in found}
    recalls = {row.piece.recall_id for row in found}
    told: dict[int, list[RecallTold]] = {}
    letters = RecallTold.objects.filter(recall__in=recalls, site__in=sites)
    for telling in letters.select_related("mail", "by", "customer"):
        told.setdefault(telling.site_id, []).append(telling)
    promises = {row.stage_id: row for row in _promises().filter(stage__in=stages)}
    people = SiteTenure.objects.contacts(sites, today)
    untold = set(
        RecalledPiece.objects.filter(recall__in=recalls, site__in=sites)
        .untold()
        .values_list("pk", flat=True)
    )
    for row in found:
        row.told = told.get(row.piece.site_id, [])
        row.promise = promises.get(row.piece.stage_id) if not row.piece.end else None
        row.customer = people.get(row.piece.site_id)
        row.is_untold = row.piece.pk in untold
    return found


def _promises() -> QuerySet[FollowUp]:
    rows = FollowUp.objects.alive().filter(terms__closing=FollowUpRule.Closing.PART_OUT)
    return rows.select_related("visit__lead")


def pieces_of(recall: Recall) -> QuerySet[RecalledPiece]:
    """Open ones first, by house."""
    rows = recall.pieces.select_related(
        "recall", "site", "stage__train", "stage__fitted_by", "fill__product", "ended_by"
    )
    return rows.order_by("end", "site__street", "site__town", "pk")


def counts_of(recall: Recall) -> Counts:
    """In three queries."""
    pieces = recall.pieces.all()
    booked = Q(stage__in=_promises().filter(visit__isnull=False).values("stage"))
    ends = {end: Count("pk", filter=Q(end=end)) for end in End.values if end}
    found = pieces.aggregate(
        pieces=Count("pk"),
        houses=Count("site", distinct=True),
        open_houses=Count("site", distinct=True, filter=Q(end="")),
        open=Count("pk", filter=Q(end="")),
        booked=Count("pk", filter=Q(end="") & booked),
        **{f"end_{end}": count for end, count in ends.items()},
    )
    look = pieces.open().to_look_at().exclude(booked).count()
    untold = pieces.open().untold().aggregate(houses=Count("site", distinct=True))["houses"]
    said = [
        *((str(End(end).label), found[f"end_{end}"]) for end in ends),
        (BOOKED, found["booked"]),
        (LOOK, look),
        (NO_VISIT, found["open"] - found["booked"] - look),
    ]
    return Counts(
        found["pieces"],
        found["houses"],
        found["open_houses"],
        untold,
        tuple((word, number) for word, number in said if number),
    )


def recalls_of(promise: FollowUp) -> list[Recall]:
    """Why a part is promised to be replaced."""
    if not promise.is_of_recall:
        return []
    open_ones = RecalledPiece.objects.open().filter(stage=promise.stage_id)
    return list(Recall.objects.filter(pk__in=open_ones.values("recall")))


@dataclass(frozen=True)
class Listed:
    """A recall in the list of all."""

    recall: Recall
    houses: int
    left: int


def listed() -> list[Listed]:
    """Open ones first, then the newest."""
    rows: Any = Recall.objects.select_related("opened_by", "closed_by").annotate(
        houses=Count("pieces__site", distinct=True),
        left=Count("pieces__site", distinct=True, filter=Q(pieces__end="")),
    )
    found = [Listed(row, row.houses, row.left) for row in rows]
    return sorted(found, key=lambda row: row.recall.closed_at is not None)


def tables(recall: Recall, *, now: datetime) -> list[Table]:
    heads = ("House", "Piece", "Fitted", "Serial number", "Lot", "Told", "State", "Why", "By")
    rows: list[tuple[Value, ...]] = [
        (
            str(row.piece.site),
            str(row.piece.stage),
            row.piece.stage.fitted_on,
            row.piece.stage.serial,
            row.piece.fill.lot if row.piece.fill else row.piece.stage.lot,
            "no" if row.is_untold else "yes",
            row.state,
            row.piece.ended_why,
            person(row.piece.ended_by) if row.piece.ended_by else "",
        )
        for row in rows_of(pieces_of(recall), company_day(now))
    ]
    return [table("Recall", heads, rows, above=recall.title)]
