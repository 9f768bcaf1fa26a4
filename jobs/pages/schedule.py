"""Who is on a schedule, what can hurt somebody there, and the sheets to print."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django.contrib.auth.models import User

from equipment.models import SpecialUse, Well
from jobs.models import DoNotUse, SiteTenure, Visit
from jobs.schedule.free_times import at_hour, technicians
from jobs.schedule.working_time import TimesAway

from .left_words import words_left


def sheets_of(on: date, chosen: str) -> dict[str, object]:
    """One sheet for each person who has a visit that day; `chosen` narrows it to one."""
    visits = list(Visit.objects.on_day(on).standing().with_job())
    people = [one for one in people_of(visits) if not chosen or str(one.pk) == chosen]
    times, span = TimesAway.of(people, on, on), (at_hour(on, 0), at_hour(on, 24))
    away = [one for one in people if times.first(one.pk, *span)]
    sheets = [
        {"person": one, "visits": own, "away": one in away}
        for one in people
        if (own := visits_of(one, visits)) or one in away
    ]
    return {
        "on": on,
        "nav": "day",
        "sheets": sheets,
        "alerts": alerts_of(visit.job.site_id for visit in visits),
        "left_words": words_left({visit.job_id for visit in visits}),
        "names": SiteTenure.objects.contacts({visit.job.site_id for visit in visits}, on),
    }


def people_of(visits: list[Visit]) -> list[User]:
    """All technicians, and whoever else leads a visit."""
    people = {row.pk: row for row in technicians()}
    for visit in visits:
        for who in filter(None, (visit.lead, visit.helper)):
            people.setdefault(who.pk, who)
    return list(people.values())


def visits_of(person: User, visits: list[Visit]) -> list[Visit]:
    """Those this person leads or helps on."""
    return [visit for visit in visits if person.pk in (visit.lead_id, visit.helper_id)]


def alerts_of(sites: Iterable[int]) -> dict[int, list[str]]:
    """What can hurt somebody at a house: open notices, home dialysis, a well head in a pit."""
    found: dict[int, list[str]] = {}
    sites = list(sites)
    for site, notices in DoNotUse.objects.standing().by_house(sites).items():
        found[site] = [f"{row.title_at(site)}: {row.reason}." for row in notices]
    for use in SpecialUse.objects.filter(site__in=sites, ended_on=None):
        if use.blocks_oxidant:
            said = "Home dialysis, and the clinic has not been told: no disinfection, no oxidant."
            found.setdefault(use.site_id, []).append(said)
    for well in Well.objects.filter(site__in=sites, head_in_pit=True):
        found.setdefault(well.site_id, []).append("Well head in a pit: nobody goes in.")
    return found
