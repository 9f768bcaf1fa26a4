"""Visits that need a call from the office, on top of the worklist, in one query."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import (
    Case,
    Exists,
    F,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.functions import Coalesce

from jobs.models import Absence, ContactAttempt, Customer, Giving, Job, Visit, VisitRequest
from jobs.models.company import company_day
from jobs.models.telling import letters_of_row, not_told_yet, untold_of_row
from jobs.wording.names import person

from .attempts import again
from .telling import why_not_told

SHOWN = 50
#: a visit that nobody took is not forgotten so soon after its day
AWAY_LATELY = timedelta(days=60)


@dataclass
class NeedsCall:
    """A visit whose customer asks for something or does not know of it, or with work to go on."""

    visit: Visit
    customer: Customer | None
    #: what is asked, each with its moment, oldest first
    asked: list[tuple[datetime, str]] = field(default_factory=list)
    #: why they do not know, where they do not
    why: str = ""
    #: nobody comes for the rest of the job
    to_go_on: bool = False
    #: the time away of who was to come, where nobody took it yet
    absence: int | None = None
    attempts: list[ContactAttempt] = field(default_factory=list)
    today: date = date.min

    @property
    def last(self) -> ContactAttempt | None:
        return self.attempts[0] if self.attempts else None

    @property
    def again(self) -> str:
        return again(self.attempts, self.today)

    @property
    def handled_by(self) -> str:
        """Who tried last: nobody else calls at the same time."""
        return person(self.last.by) if self.last else ""


@dataclass
class AwayDay:
    """Visits of one day that wait for somebody else, one row for all of them."""

    absence: int
    first: Visit
    visits: list[Visit]

    @property
    def towns(self) -> list[str]:
        return sorted({visit.job.site.town for visit in self.visits})


def away_days(calls: list[NeedsCall]) -> tuple[list[AwayDay], list[NeedsCall]]:
    """Calls that are only about who comes, by absence and day; and the others."""
    days: dict[tuple[int, date], AwayDay] = {}
    others = []
    for call in calls:
        if call.absence is None or call.asked or call.why or call.to_go_on:
            others.append(call)
            continue
        key = call.absence, company_day(call.visit.starts_at)
        day = days.setdefault(key, AwayDay(call.absence, call.visit, []))
        day.visits.append(call.visit)
    return list(days.values()), others


def visits_to_call(now: datetime) -> list[Any]:
    """A row for each open request of a visit, else one for each that is not told or to go on.

    What is asked comes first, then what nobody comes to. Rows carry what the query adds: `untold`,
    `untold_to`, `going_on`, `away`, `letter`, `asked_kind`, `asked_note` and `asked_at`. Each
    reason finds its visits by an index of its own.
    """
    going_on = visits_to_go_on()
    first = untold_of_row(now).values("customer")[:1]
    letters = letters_of_row().filter(customer=Coalesce(OuterRef("untold_to"), F("customer")))
    newest = letters.order_by("-pk").values("state")[:1]
    rows = (
        Visit.objects.filter(pk__in=_needing_a_call(now))
        .with_open_requests()
        .annotate(
            untold_to=Subquery(first),
            letter=Subquery(newest),
            untold=Case(When(not_told_yet(now), then=Value(True)), default=Value(False)),
            going_on=Case(
                When(pk__in=going_on.values("pk"), then=Value(True)), default=Value(False)
            ),
            away=Case(
                When(status__in=Giving.MAY_GO_BACK, then=Subquery(_times_away().values("pk")[:1]))
            ),
        )
    )
    asked, away = (F(name).asc(nulls_last=True) for name in ("asked_at", "away"))
    return list(rows.with_job().order_by(asked, away, "starts_at", "pk")[:SHOWN])


def count_to_call(rows: Collection[Any], now: datetime) -> int:
    """How many visits there are; asked of the database only where not all of them are shown."""
    if len(rows) < SHOWN:
        return len({row.pk for row in rows})
    return Visit.objects.filter(pk__in=_needing_a_call(now)).count()


def _needing_a_call(now: datetime) -> QuerySet[Any]:
    untold, going_on = Visit.objects.filter(not_told_yet(now)), visits_to_go_on()
    asked = VisitRequest.objects.open().order_by().values("visit")
    return asked.union(
        untold.order_by().values("pk"),
        going_on.order_by().values("pk"),
        *(visits_of_away(role, now) for role in ("visits_led", "visits_helped")),
    )


def _times_away() -> QuerySet[Absence]:
    """Time away of lead or helper that touches the visit of a row, for a subquery."""
    whose = Q(person=OuterRef("lead")) | Q(person=OuterRef("helper"))
    span = Q(starts_at__lt=OuterRef("ends_at"), ends_at__gt=OuterRef("starts_at"))
    return Absence.objects.standing().filter(whose, span).order_by("pk")


def visits_of_away(role: str, now: datetime) -> Any:
    """To come in the name of somebody who is away: found from the few who are."""
    status = {f"person__{role}__status__in": Giving.MAY_GO_BACK}
    span = {
        f"person__{role}__starts_at__lt": F("ends_at"),
        f"person__{role}__ends_at__gt": F("starts_at"),
    }
    lately = Absence.objects.standing().filter(ends_at__gt=now - AWAY_LATELY)
    return lately.filter(**status, **span).order_by().values(f"person__{role}")


def visits_to_go_on() -> QuerySet[Visit]:
    """The last visit of an open job that has none to come: nobody waits for the rest of it."""
    same_job = Visit.objects.filter(job=OuterRef("job"))
    later = same_job.filter(status=Visit.Status.CLOSED, starts_at__gt=OuterRef("starts_at"))
    return Visit.objects.filter(
        ~Exists(same_job.filter(status__in=Visit.TO_COME)),
        ~Exists(later),
        job__status=Job.Status.OPEN,
        status=Visit.Status.CLOSED,
    )


def calls_of(rows: Iterable[Any], contacts: dict[int, Customer]) -> list[NeedsCall]:
    """One for each visit, with the first of the house who does not know, else its contact."""
    calls: dict[int, NeedsCall] = {}
    rows = list(rows)
    others = {row.untold_to for row in rows if row.untold} - {each.pk for each in contacts.values()}
    named = Customer.objects.in_bulk(others - {None}) if others - {None} else {}
    for row in rows:
        customer = contacts.get(row.job.site_id) or row.job.customer
        if row.untold:
            customer = named.get(row.untold_to, customer)
        call = calls.setdefault(row.pk, NeedsCall(row, customer))
        if row.asked_at:
            request = VisitRequest(kind=row.asked_kind, note=row.asked_note)
            call.asked.append((row.asked_at, request.said))
        call.to_go_on = row.going_on
        call.absence = row.away
        if row.untold:
            call.why = why_not_told(customer, row.letter)
    return list(calls.values())
