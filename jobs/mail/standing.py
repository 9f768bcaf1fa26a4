"""A standing notice as the household reads it: only what is recorded, and what it means today."""

from __future__ import annotations

from dataclasses import dataclass

from equipment.models import Sample
from jobs.fieldwork.water_use import uses
from jobs.models import DoNotUse
from jobs.schedule.hours import day_words, zone_of


@dataclass(frozen=True)
class Said:
    """Head and sentences of one notice."""

    head: str
    lines: tuple[str, ...]


def notices_of(site_id: int) -> list[Said]:
    """In every letter to a house, and on its sheet, until they are lifted."""
    standing = DoNotUse.objects.standing().at_site(site_id).select_related("site", "well")
    return [said_of(notice) for notice in standing]


def said_of(notice: DoNotUse) -> Said:
    day = day_words(notice.opened_at, zone_of(notice.site))
    head = f"{notice.get_level_display()} yet. Our notice of {day} still holds until we lift it."
    sample: tuple[str, ...] = ()
    if notice.level == DoNotUse.Level.SAMPLE_PENDING:
        head = (
            f"Do not drink the water yet. Since {day} it waits for a bacteria sample that is "
            "negative."
        )
    if notice.is_about_bacteria:
        sample = (_bottle(notice),)
    return Said(head, (*uses(notice.level, notice.cause), *sample))


def _bottle(notice: DoNotUse) -> str:
    """Whether a bottle is at the laboratory, as the rows have it."""
    samples = Sample.objects.of_water(notice.site, notice.well).filter(kind=Sample.Kind.BACTERIA)
    since = samples.filter(taken_at__gte=notice.opened_at).order_by("taken_at", "pk")
    waiting = since.filter(outcome=Sample.Outcome.WAITING).last()
    if waiting:
        day = day_words(waiting.taken_at, zone_of(notice.site))
        return f"A bottle was filled on {day}, {waiting.tap}; its result is not in yet."
    if since.exists():
        return "No bottle is at the laboratory today."
    return "No bottle has been filled since that day."
