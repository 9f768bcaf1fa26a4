"""What a kind of work asks of its people: a licence that holds on that day, and how many come."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Self

from django.contrib.auth.models import User

from jobs.models import Giving, Visit
from jobs.models.company import company_day
from jobs.models.visits import day_start

from .company_tables import CompanyTables


@dataclass(frozen=True)
class Held:
    """A licence of a person with its end."""

    person: int
    name: str
    expires_on: date | None

    def holds_on(self, day: date) -> bool:
        return self.expires_on is None or self.expires_on >= day


@dataclass
class Needs:
    """Needs by kind of work, and every licence by its name."""

    licences: dict[str, str] = field(default_factory=dict)
    numbers: dict[str, int] = field(default_factory=dict)
    held: dict[str, list[Held]] = field(default_factory=dict)

    @classmethod
    def load(cls, tables: CompanyTables | None = None) -> Self:
        tables, needs = tables or CompanyTables.load(), cls()
        for kind, licence, people, _ in tables.needs:
            needs.licences[kind], needs.numbers[kind] = licence, people
        for name, _, person, expires_on in tables.licences:
            needs.held.setdefault(name.casefold(), []).append(Held(person, name, expires_on))
        return needs

    def lacking(self, kind: str, people: Iterable[int | None], day: date) -> str:
        """The licence this work needs and none of these people holds on that day, "" for none."""
        licence = self.licences.get(kind, "")
        return "" if not licence or self.holders(kind, day) & set(people) else licence

    def lacking_at(self, visit: Visit) -> str:
        """The licence that nobody who comes to this visit holds on its day."""
        people = (visit.lead_id, visit.helper_id)
        return self.lacking(visit.job.kind, people, company_day(visit.starts_at))

    def holders(self, kind: str, day: date) -> set[int]:
        """Who holds on that day what this work needs."""
        rows = self.held.get(self.licences.get(kind, "").casefold(), [])
        return {row.person for row in rows if row.holds_on(day)}

    def people(self, kind: str) -> int:
        return self.numbers.get(kind, 1)


def visits_lacking(needs: Needs, now: datetime) -> list[tuple[Visit, str]]:
    """Visits from today on which nobody who comes may do any more, each with what is lacking."""
    kinds = [kind for kind, licence in needs.licences.items() if licence]
    if not kinds:
        return []
    rows = Visit.objects.filter(
        job__kind__in=kinds,
        status__in=Giving.MAY_GO_BACK,
        starts_at__gte=day_start(company_day(now)),
    )
    found = ((visit, needs.lacking_at(visit)) for visit in rows.with_job().order_by("starts_at"))
    return [(visit, licence) for visit, licence in found if licence]


def people_named(pks: Iterable[int]) -> list[User]:
    """Technicians among them, by last name."""
    rows = User.objects.filter(pk__in=pks, groups__name="technician")
    return list(rows.order_by("last_name", "first_name", "pk"))
