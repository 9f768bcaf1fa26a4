"""What visits wait for, as it stands now: the one home of these states and their words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from equipment.models import Sample
from jobs.errors import BadEntry, WrongState
from jobs.models import Visit, VisitWait
from jobs.models.company import company_day

from .laboratory import RESULT_WORKING_DAYS
from .working_days import OwnDays, add_working_days, own_days

#: the visit that goes before has done what is waited for
DONE = (*Visit.COMPLETING, Visit.Outcome.WAITING)
DAY = timedelta(days=1)


class State(StrEnum):
    """In the order in which they press."""

    FOUND = "bacteria found"
    LOST = "nothing to wait for"
    EARLY = "too early"
    LATE = "no result yet"
    MET = "may be confirmed"
    WAITS = "waits"


ORDER = [State.FOUND, State.LOST, State.EARLY, State.LATE, State.WAITS, State.MET]


@dataclass(frozen=True)
class Waiting:
    """One state for all a visit waits for, with the reason in words."""

    visit: Visit
    state: State
    said: str
    #: the first day on which it can be, as far as it is known
    not_before: date | None = None

    @property
    def needs_act(self) -> bool:
        return self.state != State.WAITS

    @property
    def presses(self) -> bool:
        """It cannot go as it is planned."""
        return self.state not in (State.WAITS, State.MET)


def waiting_visits(
    now: datetime, visits: Iterable[Visit] | None = None, own: OwnDays | None = None
) -> dict[int, Waiting]:
    """Those of these visits, or of all, that wait for something; by the visit; three queries."""
    rows = VisitWait.objects.standing().order_by("visit__starts_at", "visit", "pk")
    if visits is not None:
        rows = rows.filter(visit__in=[visit.pk for visit in visits if visit.is_only_held])
    return states_of(rows.with_visits(), now, own)


def states_of(
    rows: Iterable[VisitWait], now: datetime, own: OwnDays | None = None
) -> dict[int, Waiting]:
    """Of waits that stand, by the visit; two queries.

    `own` are days that were read before, from the first bottle on.
    """
    waits = list(rows)
    samples, found = _samples_of(waits), dict[int, list[Waiting]]()
    own = _own_days(waits) if own is None else own
    for wait in waits:
        found.setdefault(wait.visit_id, []).append(_state_of(wait, samples, own, now))
    return {pk: _worst(each) for pk, each in found.items()}


def waiting_of(visit: Visit, now: datetime) -> Waiting | None:
    return waiting_visits(now, [visit]).get(visit.pk)


def show_waiting(visits: Iterable[Visit], now: datetime, own: OwnDays | None = None) -> None:
    """Each visit says what it waits for: `visit.waiting`."""
    visits = list(visits)
    if any(visit.is_only_held for visit in visits):
        found = waiting_visits(now, visits, own)
        for visit in visits:
            visit.waiting = found.get(visit.pk)


def refuse_while_waiting(visit: Visit, now: datetime) -> None:
    """It is made firm once all it waits for has come."""
    waiting = waiting_of(visit, now)
    if waiting and waiting.state != State.MET:
        raise WrongState(f"This visit waits, and is only held: {waiting.said}.")


def first_day(wait: VisitWait, own: OwnDays | None = None) -> date | None:
    """The first day on which what waits can be: the gap over, or a result to be expected."""
    after = wait.after
    if after and wait.days is not None:
        return company_day(after.left_at or after.ends_at) + wait.days * DAY
    filled_on = _filled_on(wait)
    return add_working_days(filled_on, RESULT_WORKING_DAYS, own) if filled_on else None


def _filled_on(wait: VisitWait) -> date | None:
    """The day of the bottle, known or planned."""
    if wait.sample:
        return company_day(wait.sample.taken_at)
    return company_day(wait.after.ends_at) if wait.after else None


def _own_days(waits: list[VisitWait]) -> OwnDays:
    """For all results at once; nothing is asked where none is waited for."""
    days = [_filled_on(wait) for wait in waits if wait.kind == VisitWait.Kind.RESULT]
    first = min((day for day in days if day), default=None)
    return own_days(first) if first else {}


def first_day_of(visit: Visit) -> date | None:
    """Of all that a visit waits for."""
    waits = VisitWait.objects.standing().filter(visit=visit).select_related("after", "sample")
    return max((day for wait in waits if (day := first_day(wait))), default=None)


def refuse_too_early(wait: VisitWait, starts_at: datetime) -> None:
    """No time is held before a gap is over."""
    first = first_day(wait) if wait.kind == VisitWait.Kind.GAP else None
    if first and company_day(starts_at) < first:
        raise BadEntry(
            f"Not before {first:%A %-d %B %Y}: {_gap_said(wait)}.",
            field="day",
        )


def refuse_move(visit: Visit, starts_at: datetime) -> None:
    waits = VisitWait.objects.standing().filter(visit=visit, kind=VisitWait.Kind.GAP)
    for wait in waits.select_related("after__job"):
        refuse_too_early(wait, starts_at)


def _samples_of(waits: list[VisitWait]) -> list[Sample]:
    """Bottles of the houses whose visits are waited for, from the first of their days on."""
    after = [wait.after for wait in waits if wait.after and wait.kind == VisitWait.Kind.RESULT]
    if not after:
        return []
    first = min(visit.starts_at for visit in after) - DAY
    sites = {visit.job.site_id for visit in after}
    return list(Sample.objects.filter(site__in=sites, taken_at__gte=first))


def _state_of(wait: VisitWait, samples: list[Sample], own: OwnDays, now: datetime) -> Waiting:
    is_gap = wait.kind == VisitWait.Kind.GAP
    state, said = _of_gap(wait) if is_gap else _of_result(wait, samples, own, now)
    return Waiting(wait.visit, state, said, first_day(wait, own))


def _worst(each: list[Waiting]) -> Waiting:
    worst = min(each, key=lambda row: ORDER.index(row.state))
    days = [row.not_before for row in each if row.not_before]
    said = "; ".join(row.said for row in each if row.state == worst.state)
    return Waiting(worst.visit, worst.state, said, max(days, default=None))


def _named(visit: Visit) -> str:
    day = company_day(visit.starts_at)
    kind = visit.job.short_kind
    return f"{kind[:1].lower()}{kind[1:]} of {_said(day)}"


def _said(day: date) -> str:
    return f"{day:%-d %B %Y}"


def _gap_said(wait: VisitWait) -> str:
    days = "1 day" if wait.days == 1 else f"{wait.days} days"
    return f"{days} after the {_named(wait.after)}" if wait.after else days


def _failed(after: Visit) -> str:
    """Why the visit that goes before brings nothing any more."""
    if after.status == Visit.Status.CANCELLED:
        return f"the {_named(after)} is cancelled"
    if after.status == Visit.Status.CLOSED and after.outcome not in DONE:
        return f"the {_named(after)} ended: {after.get_outcome_display()}"
    return ""


def _of_gap(wait: VisitWait) -> tuple[State, str]:
    after, first = wait.after, first_day(wait)
    assert after
    assert first
    if failed := _failed(after):
        return State.LOST, failed
    if company_day(wait.visit.starts_at) < first:
        return State.EARLY, f"not before {_said(first)}, {_gap_said(wait)}"
    if after.status == Visit.Status.CLOSED:
        return State.MET, f"the {_named(after)} is done; the wait is over on {_said(first)}"
    return State.WAITS, f"{_gap_said(wait)}, on {_said(first)} or later"


def _of_result(
    wait: VisitWait, samples: list[Sample], own: OwnDays, now: datetime
) -> tuple[State, str]:
    after, Outcome = wait.after, Sample.Outcome
    found = [wait.sample] if wait.sample else _taken_on(after, samples) if after else []
    if not found:
        assert after
        if failed := _failed(after):
            return State.LOST, failed
        if after.status == Visit.Status.CLOSED:
            return State.LOST, f"no sample is on file from the {_named(after)}"
        return State.WAITS, f"the sample is taken at the {_named(after)}"
    name = f"the sample of {_said(company_day(found[0].taken_at))}"
    if any(sample.is_found for sample in found):
        return State.FOUND, f"bacteria were found in {name}: disinfect, then sample again"
    if any(sample.outcome == Outcome.SPOILED for sample in found):
        return State.LOST, f"{name} was not usable: take another"
    if all(sample.outcome != Outcome.WAITING for sample in found):
        return State.MET, f"the result of {name} is in and nothing was found"
    overdue_on = add_working_days(company_day(found[0].taken_at), RESULT_WORKING_DAYS, own)
    return _not_in_yet(wait, name, overdue_on, company_day(now))


def _not_in_yet(wait: VisitWait, name: str, overdue_on: date, today: date) -> tuple[State, str]:
    said = f"no result yet of {name}"
    if today >= overdue_on:
        return State.LATE, f"{said}: call the laboratory"
    if company_day(wait.visit.starts_at) <= today + DAY:
        return State.LATE, f"{said}, and the visit is {_said(company_day(wait.visit.starts_at))}"
    return State.WAITS, said


def _taken_on(after: Visit, samples: list[Sample]) -> list[Sample]:
    """The bottles of that house of that day."""
    day = company_day(after.left_at or after.starts_at)
    return [
        sample
        for sample in samples
        if sample.site_id == after.job.site_id and company_day(sample.taken_at) == day
    ]
