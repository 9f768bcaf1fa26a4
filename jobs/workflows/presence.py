"""Who comes must be there and may do the work: refused under a lock on these people.

The lock sets bookings and absences of one person behind one another, so that neither of two at
once overlooks the other.
"""

from __future__ import annotations

from collections.abc import Iterable

from django.contrib.auth.models import User

from jobs.errors import BadEntry
from jobs.models import Absence, Job, Visit
from jobs.models.company import company_day
from jobs.schedule.needs import Needs, people_named
from jobs.schedule.working_time import span_words
from jobs.wording.names import person as name_of

from .held import Held


def lock_people(people: Iterable[int]) -> None:
    """In the order of their numbers; whoever only names them elsewhere is not held up."""
    rows = User.objects.select_for_update(no_key=True, of=("self",)).order_by("pk")
    list(rows.filter(pk__in=set(people)).values_list("pk", flat=True))


def must_be_there(*, held: Held, job: Job, moving: Visit | None = None) -> None:
    """Refuse somebody who is away, and work whose licence none of them holds on that day.

    What stands already is not asked about again where nothing of it changes.
    """
    people = {"lead": held.lead, "helper": held.helper}
    lock_people(person.pk for person in people.values() if person)
    if moving and _same(held, moving):
        return
    away = Absence.objects.standing().of(who.pk for who in people.values() if who)
    for absence in away.within(held.starts_at, held.ends_at).select_related("person"):
        field = next(name for name, who in people.items() if who == absence.person)
        raise BadEntry(
            f"{name_of(absence.person)} is away, {span_words(absence)}: choose somebody else or "
            "another time.",
            field=field,
        )
    _must_be_licensed(held, job)


def _same(held: Held, visit: Visit) -> bool:
    """The same people, and no time outside what is held."""
    helper = held.helper.pk if held.helper else None
    inside = visit.starts_at <= held.starts_at and held.ends_at <= visit.ends_at
    return inside and (held.lead.pk, helper) == (visit.lead_id, visit.helper_id)


def _must_be_licensed(held: Held, job: Job) -> None:
    needs, day = Needs.load(), company_day(held.starts_at)
    helper = held.helper.pk if held.helper else None
    lacking = needs.lacking(job.kind, (held.lead.pk, helper), day)
    if not lacking:
        return
    names = [name_of(who) for who in people_named(needs.holders(job.kind, day))]
    way_out = f"choose {' or '.join(names)}" if names else "nobody does"
    raise BadEntry(
        f"{job.get_kind_display()} needs “{lacking}”, and nobody chosen holds it on "
        f"{day:%-d %B %Y}: {way_out}, or have the owner renew one under Licences and certificates.",
        field="lead",
    )
