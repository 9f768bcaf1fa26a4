"""A standing notice as the household reads it: only what is recorded, and what it means today."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from equipment.models import Sample, Site
from jobs.fieldwork.kinds import HELD_TITLE
from jobs.fieldwork.water_use import uses, uses_held
from jobs.models import DoNotUse
from jobs.schedule.hours import day_words, zone_of


@dataclass(frozen=True)
class Said:
    """Head and sentences of one notice."""

    head: str
    lines: tuple[str, ...]


def notices_of(site_id: int) -> list[Said]:
    """In every letter to a house, and on its sheet, until they are lifted."""
    return [said_of(notice, site_id) for notice in standing_at(site_id)]


def standing_at(site_id: int) -> list[DoNotUse]:
    """What a household reads: a sample that is waited for says nothing beside one with bacteria."""
    standing = DoNotUse.objects.standing().at_site(site_id).prefetch_related("held")
    rows = list(standing.select_related("site", "well"))
    pending, graver = DoNotUse.Level.SAMPLE_PENDING, DoNotUse.Level.NO_DRINKING
    has_graver = any(row.level == graver for row in rows)
    return [row for row in rows if not (has_graver and row.level == pending)]


def said_of(notice: DoNotUse, site_id: int) -> Said:
    """As of now, with the bottle that is at the laboratory or is not."""
    lasting = lasting_of(notice, site_id)
    if notice.held_at(site_id):
        return lasting
    sample = (_bottle(notice),) if notice.is_about_bacteria else ()
    return Said(lasting.head, (*lasting.lines, *sample))


def lasting_of(notice: DoNotUse, site_id: int) -> Said:
    """On paper that is kept: what stays true until it is lifted, or until it comes back."""
    held = notice.held_at(site_id)
    if held:
        day = _day(held.at, held.site)
        return Said(f"{HELD_TITLE} since {day}, and not lifted.", uses_held())
    day = _day(notice.opened_at, notice.site)
    head = f"{notice.get_level_display()} yet. Our notice of {day} still holds until we lift it."
    if notice.level == DoNotUse.Level.SAMPLE_PENDING:
        head = (
            f"Do not drink the water yet. Since {day} it waits for a bacteria sample that is "
            "negative."
        )
    return Said(head, uses(notice.level, notice.cause))


def _day(moment: datetime, site: Site) -> str:
    """With its year: the paper is kept."""
    zone = zone_of(site)
    return f"{day_words(moment, zone)}, {moment.astimezone(zone).year}"


def _bottle(notice: DoNotUse) -> str:
    """Whether a bottle is at the laboratory, as the rows have it."""
    samples = Sample.objects.of_water(notice.site, notice.well).filter(kind=Sample.Kind.BACTERIA)
    since = samples.filter(taken_at__gte=notice.opened_at).order_by("taken_at", "pk")
    waiting = since.filter(outcome=Sample.Outcome.WAITING).last()
    if waiting:
        day = _day(waiting.taken_at, notice.site)
        return f"A bottle was filled on {day}, {waiting.tap}; its result is not in yet."
    if since.exists():
        return "No bottle is at the laboratory today."
    return "No bottle has been filled since that day."
