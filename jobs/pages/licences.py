"""Licences and certificates of everybody who works here, and what is booked after they end."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date, datetime

from django.contrib.auth.models import User
from django.http import QueryDict

from jobs.models import Company, Job, Skill, Visit
from jobs.models.company import company_day
from jobs.reports.tables import Table, table
from jobs.schedule.needs import Needs, visits_lacking
from jobs.wording.licences import (
    COMPANY_ITSELF,
    OUT_OF_USE,
    STATES,
    Standing,
    standing,
    state_words,
)
from jobs.wording.names import person as name_of

from .giving import Row as GiveRow
from .giving import rows_of

COMPANY = "company"
FILE_HEADS = (
    "Ends on",
    "Days left",
    "State",
    "Whose",
    "Licence or certificate",
    "Number",
    "Work that needs it",
    "Visits booked without it",
)


@dataclass
class Row:
    """One licence: how it stands, which work needs it, and how many visits stand without it."""

    licence: Skill
    standing: Standing
    works: list[str] = field(default_factory=list)
    lacking: int = 0

    @property
    def whose(self) -> str:
        return name_of(self.licence.person) or COMPANY_ITSELF


@dataclass(frozen=True)
class Part:
    """One state as a link with its count."""

    key: str
    label: str
    count: int
    is_shown: bool


@dataclass
class Left:
    """Visits to come of one person that nobody who comes may do on their day."""

    person: User
    licences: list[str] = field(default_factory=list)
    visits: list[Visit] = field(default_factory=list)


@dataclass(frozen=True)
class Ending:
    """Work that nobody may do after a day, or nobody at all."""

    work: str
    licence: str
    last: date | None


@dataclass
class Shelf:
    """Everything that is asked of licences, read once."""

    now: datetime
    company: Company = field(default_factory=Company.load)
    needs: Needs = field(default_factory=Needs.load)
    lacking: list[tuple[Visit, str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.lacking = visits_lacking(self.needs, self.now)

    @property
    def today(self) -> date:
        return company_day(self.now)

    def rows(self, licences: list[Skill]) -> list[Row]:
        """By what ends first; what has no end day comes last."""
        left = Counter(
            (who, licence.casefold())
            for visit, licence in self.lacking
            for who in {visit.lead_id, visit.helper_id}
        )
        rows = [
            Row(
                row,
                self.standing(row),
                self.works(row.name),
                left[row.person_id, row.name.casefold()] if row.person_id else 0,
            )
            for row in licences
        ]
        rows.sort(key=lambda row: row.whose.casefold())
        return sorted(rows, key=lambda row: row.licence.expires_on or date.max)

    def standing(self, row: Skill) -> Standing:
        lead_days = self.company.licence_lead_days
        return standing(row.expires_on, row.withdrawn_on, on=self.today, lead_days=lead_days)

    def works(self, name: str) -> list[str]:
        """Kinds of work that need this licence."""
        wanted = self.needs.licences
        return [
            str(label)
            for kind, label in Job.Kind.choices
            if wanted.get(kind, "").casefold() == name.casefold()
        ]

    def left(self) -> list[Left]:
        """By person who leads the visit, the soonest first."""
        found: dict[int, Left] = {}
        for visit, licence in self.lacking:
            row = found.setdefault(visit.lead_id, Left(visit.lead))
            row.visits.append(visit)
            if licence not in row.licences:
                row.licences.append(licence)
        return list(found.values())

    def endings(self) -> list[Ending]:
        """Work whose last holder's licence ends within the days of lead, or has none."""
        found = []
        for kind, label in Job.Kind.choices:
            licence = self.needs.licences.get(kind, "")
            ends = [held.expires_on for held in self.needs.held.get(licence.casefold(), [])]
            if not licence or None in ends:
                continue
            last = max(filter(None, ends), default=None)
            if last is None or (last - self.today).days <= self.company.licence_lead_days:
                found.append(Ending(str(label), licence, last))
        return found


def kept() -> list[Skill]:
    """Of the company and of everybody with an open account, those out of use as well."""
    return list(Skill.objects.of_who_works().select_related("person"))


def list_of(asked: QueryDict, now: datetime) -> dict[str, object]:
    """What the page shows: ?show= a state, ?who= a person's number or the company."""
    shelf, licences = Shelf(now), kept()
    show, who = asked.get("show", ""), asked.get("who", "")
    rows = shelf.rows([row for row in licences if who in ("", _holder(row))])
    counts = Counter(row.standing.key for row in rows)
    whole = sum(number for key, number in counts.items() if key != OUT_OF_USE)
    parts = [Part("", "all", whole, show not in STATES)]
    parts += [
        Part(key, state_words(key, shelf.company.licence_lead_days), counts[key], show == key)
        for key in STATES
        if counts[key] or key == show
    ]
    holders = {_holder(row): name_of(row.person) or COMPANY_ITSELF for row in licences}
    return {
        "rows": [row for row in rows if _is_shown(row, show)],
        "parts": parts,
        "show": show if show in STATES else "",
        "who": who,
        "holders": sorted(holders.items(), key=lambda holder: holder[1].casefold()),
        "left": shelf.left(),
        "endings": shelf.endings(),
        "lead_days": shelf.company.licence_lead_days,
        "today": shelf.today,
    }


def _holder(row: Skill) -> str:
    return str(row.person_id) if row.person_id else COMPANY


def _is_shown(row: Row, show: str) -> bool:
    """What is out of use is looked at only where it is asked for."""
    return row.standing.key == show if show in STATES else row.standing.key != OUT_OF_USE


def own_of(who: User, now: datetime) -> list[Row]:
    """What somebody holds, for their own page."""
    return Shelf(now).rows(list(Skill.objects.in_use().filter(person=who)))


def one_of(licence: Skill, now: datetime) -> dict[str, object]:
    shelf = Shelf(now)
    (row,) = shelf.rows([licence])
    return {"row": row, "licence": licence, "today": shelf.today}


def visits_of(
    who: User, people: list[User], asked: date | None, now: datetime
) -> tuple[dict[str, object], list[GiveRow]]:
    """Visits of one day of this person that nobody who comes may do; other days are links."""
    lacking = [
        (visit, licence)
        for visit, licence in visits_lacking(Needs.load(), now)
        if who.pk in (visit.lead_id, visit.helper_id)
    ]
    days = Counter(company_day(visit.starts_at) for visit, _ in lacking)
    on = asked if asked in days else next(iter(days), company_day(now))
    of_day = [visit for visit, _ in lacking if company_day(visit.starts_at) == on]
    shown = rows_of(who, of_day, [one for one in people if one.pk != who.pk], now)
    return {
        "person": who,
        "rows": shown,
        "on": on,
        "days": [(day, number) for day, number in days.items() if day != on],
        "licences": sorted({licence for _, licence in lacking}),
        "today": company_day(now),
    }, shown


def table_of(asked: QueryDict, now: datetime) -> Table:
    """The rows of the page as they are shown there."""
    shown = list_of(asked, now)
    rows = shown["rows"]
    assert isinstance(rows, list)
    return table("Licences and certificates", FILE_HEADS, (_cells(row) for row in rows))


def _cells(row: Row) -> tuple[str | int | date | None, ...]:
    licence = row.licence
    return (
        licence.expires_on,
        row.standing.days,
        row.standing.said,
        row.whose,
        licence.name,
        licence.number,
        ", ".join(row.works),
        row.lacking,
    )
