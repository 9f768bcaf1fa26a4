"""Somebody is late: when each of the visits behind would be come to, and who else could take it."""

from __future__ import annotations

from datetime import date, datetime

from django.contrib.auth.models import User
from django.utils import timezone

from jobs.models import Company, Visit
from jobs.models.company import company_day
from jobs.schedule.driving import Driving
from jobs.schedule.free_times import FreeTime
from jobs.schedule.knock_on import Coming, coming_of
from jobs.schedule.working_time import Plan
from jobs.wording.names import person as name_of
from jobs.workflows.giving import keeps_hours

from .giving import Option, Row, rows_of
from .schedule import visits_of

AS_IT_IS = "As it is: nobody is told anything"


def late_day_of(
    who: User, people: list[User], on: date, now: datetime
) -> tuple[dict[str, object], list[Row]]:
    """The visits of one person that would begin later than they are held for."""
    visits = list(Visit.objects.on_day(on).standing().with_job())
    plan = Plan.of(people, on, on, Company.load())
    coming = coming_of(visits, plan, Driving.load(plan.company), now)
    own = [coming[visit.pk] for visit in visits_of(who, visits)]
    late = [each.visit for each in own if each.is_put_back and each.visit.lead_id == who.pk]
    rows = rows_of(who, late, [one for one in people if one.pk != who.pk], now)
    busy_until = None
    for row in rows:
        each = coming[row.visit.pk]
        row.options.insert(0, later(each, plan))
        gives_way = busy_until is not None and row.visit.starts_at < busy_until
        row.is_left = not each.breaks_word and not gives_way
        if not row.is_left:
            busy_until = each.ends_at
    return {
        "person": who,
        "on": on,
        "today": company_day(now),
        "now": now,
        "rows": rows,
        "holds_up": [each for each in own if each.visit.status == Visit.Status.ON_SITE],
    }, rows


def later(coming: Coming, plan: Plan) -> Option:
    """The same person at the hour they would come now."""
    visit = coming.visit
    free = FreeTime(visit.lead, coming.starts_at, coming.ends_at)
    shift = plan.shift(visit.lead_id, company_day(coming.starts_at))
    over = shift and coming.ends_at > shift.ends_at
    reasons = (f"ends {timezone.localtime(coming.ends_at):%H:%M}, after work",) if over else ()
    same = keeps_hours(visit, coming.starts_at)
    return Option(free.value, name_of(visit.lead), coming.starts_at, same, reasons)


def said_of_late(put: list[Visit], who: User) -> str:
    """What the act did, to whoever pressed the button."""
    if not put:
        return "Nothing was chosen: all of them stay as they were told."
    given = [visit for visit in put if visit.lead_id != who.pk]
    said = f"{len(put) - len(given)} put back" if len(given) < len(put) else ""
    to = ", ".join(sorted({name_of(visit.lead) for visit in given}))
    return "; ".join(filter(None, [said, f"{len(given)} given to {to}" if given else ""])) + "."
