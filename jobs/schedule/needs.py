"""What a kind of work asks of its people: a licence that holds on that day, and how many come."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Self

from django.contrib.auth.models import User
from django.db.models import CharField, DateField, F, Value

from jobs.models import Skill, WorkNeed


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
    """Needs by kind of work, and every licence by its name; read in one query."""

    licences: dict[str, str] = field(default_factory=dict)
    numbers: dict[str, int] = field(default_factory=dict)
    held: dict[str, list[Held]] = field(default_factory=dict)

    @classmethod
    def load(cls) -> Self:
        needs, none = cls(), Value("", output_field=CharField())
        asked = WorkNeed.objects.order_by().values_list(
            "kind", "licence", "people", Value(None, output_field=DateField())
        )
        skills = Skill.objects.order_by().filter(person__is_active=True)
        held = skills.values_list(none, "name", F("person"), "expires_on")
        for kind, name, number, expires_on in asked.union(held, all=True):
            if kind:
                needs.licences[kind], needs.numbers[kind] = name, number
            else:
                row = Held(number, name, expires_on)
                needs.held.setdefault(name.casefold(), []).append(row)
        return needs

    def lacking(self, kind: str, people: Iterable[int | None], day: date) -> str:
        """The licence this work needs and none of these people holds on that day, "" for none."""
        licence = self.licences.get(kind, "")
        return "" if not licence or self.holders(kind, day) & set(people) else licence

    def holders(self, kind: str, day: date) -> set[int]:
        """Who holds on that day what this work needs."""
        rows = self.held.get(self.licences.get(kind, "").casefold(), [])
        return {row.person for row in rows if row.holds_on(day)}

    def people(self, kind: str) -> int:
        return self.numbers.get(kind, 1)


def people_named(pks: Iterable[int]) -> list[User]:
    """Technicians among them, by last name."""
    rows = User.objects.filter(pk__in=pks, groups__name="technician")
    return list(rows.order_by("last_name", "first_name", "pk"))
