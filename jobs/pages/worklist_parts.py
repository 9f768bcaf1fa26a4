"""Parts of the worklist, each with its count: a dispatcher looks at one of them or at all."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Exists, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce

from jobs.models import ContactAttempt, FollowUp
from jobs.models.follow_ups import FollowUpQuerySet, past_window

from .attempts import UNREACHED

WHOLE, CALLS, WAITS, PUT_OFF = "", "calls", "waits", "put_off"
#: parts in the order in which they stand, with what each is called
LABELS = {
    WHOLE: "all",
    CALLS: "needs a call",
    WAITS: "waits",
    "late": "late",
    "no_visit": "without a visit",
    "today": "call again today",
    "unreached": "not reached",
    PUT_OFF: "put off",
}


@dataclass(frozen=True)
class Part:
    """One part as a link: what it is called, how many there are."""

    key: str
    label: str
    count: int
    is_shown: bool
    #: of those put off, so many are past their window
    late: int = 0


def part_asked(key: str) -> str:
    """The part of that key; the whole list where there is none."""
    return key if key in LABELS else WHOLE


def with_tries(rows: FollowUpQuerySet) -> FollowUpQuerySet:
    """Each promise with the day its newest try left, and how many tries in a row were in vain."""
    tries = ContactAttempt.objects.filter(follow_up=OuterRef("pk"))
    same = ContactAttempt.objects.filter(follow_up=OuterRef("follow_up"), at__gte=OuterRef("at"))
    heard = same.exclude(how__in=ContactAttempt.IN_VAIN)
    in_vain = tries.filter(~Exists(heard)).order_by().values("follow_up")
    return rows.alias(
        again_on=Subquery(tries.order_by("-at", "-pk").values("again_on")[:1]),
        in_vain=Coalesce(Subquery(in_vain.annotate(count=Count("pk")).values("count")), 0),
    )


def part_on(key: str, today: date) -> Q:
    """Which promises of the list belong to a part; those put off are a list of their own."""
    return {
        "late": past_window(today),
        "no_visit": Q(visit=None),
        "today": Q(again_on__lte=today),
        "unreached": Q(in_vain__gte=UNREACHED),
    }.get(key, Q())


def counts_by_harm(rows: FollowUpQuerySet, show: str, today: date) -> dict[int, dict[str, int]]:
    """For each harm how many rows are shown, how many of these are late, and every part's count."""
    shown = part_on(show, today)
    every = {key: part_on(key, today) for key in ("late", "no_visit", "today", "unreached")}
    counted: dict[str, Count] = {
        "all": Count("pk"),
        "shown": Count("pk", filter=shown & Q(pk__isnull=False)),
        "shown_late": Count("pk", filter=shown & past_window(today)),
        **{f"of_{key}": Count("pk", filter=part) for key, part in every.items()},
    }
    found = with_tries(rows).order_by().values_list("terms__harm").annotate(**counted)
    return {harm: dict(zip(counted, counts, strict=True)) for harm, *counts in found}


def count_put_off(today: date) -> dict[str, int]:
    """How many promises are put off, and how many of them are past their window."""
    rows = FollowUp.objects.put_off_on(today)
    return rows.aggregate(total=Count("pk"), late=Count("pk", filter=past_window(today)))


def parts_of(
    counts: dict[int, dict[str, int]],
    *,
    show: str,
    calls: int,
    waits: int,
    put_off: dict[str, int],
) -> list[Part]:
    """Every part with its count; one that is empty and not looked at is left out."""

    def in_all(key: str) -> int:
        return sum(row[key] for row in counts.values())

    numbers = {WHOLE: in_all("all"), CALLS: calls, WAITS: waits, PUT_OFF: put_off["total"]}
    numbers |= {key: in_all(f"of_{key}") for key in LABELS if key not in numbers}
    return [
        Part(key, label, numbers[key], show == key, put_off["late"] if key == PUT_OFF else 0)
        for key, label in LABELS.items()
        if numbers[key] or key in (WHOLE, show)
    ]
