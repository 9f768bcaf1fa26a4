"""What the lines of the histories are about: kinds of rows to choose from, and their names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db.models import Q

#: kinds of rows as people call them, where the table is called otherwise
KINDS: Mapping[str, str] = {
    "auth.user": "account",
    "equipment.feedpump": "dosing pump in the catalog",
    "equipment.medium": "medium in the catalog",
    "equipment.oxidantproduct": "product in the catalog",
    "equipment.resin": "resin in the catalog",
    "equipment.retentiontank": "contact tank in the catalog",
    "equipment.site": "house",
    "equipment.stage": "part",
    "equipment.train": "system",
    "equipment.vessel": "vessel in the catalog",
    "jobs.act": "entry from a phone",
    "jobs.checklistrecord": "record",
    "jobs.checklisttemplate": "checklist",
    "jobs.company": "values of the company",
    "jobs.companyday": "holiday or closed day",
    "jobs.donotuse": "notice",
    "jobs.followup": "promise",
    "jobs.followuprule": "rule",
    "jobs.heldbytreatment": "notice held by treatment",
    "jobs.laboratoryday": "day of the laboratory",
    "jobs.lossfact": "loss in the report",
    "jobs.mailhold": "held messages",
    "jobs.outboxmail": "message",
    "jobs.pourtold": "what was poured in",
    "jobs.sitetenure": "contact of a house",
    "jobs.skill": "licence",
    "jobs.staffprofile": "telephone and hours of",
    "jobs.towndrive": "driving time",
    "jobs.workhours": "working hours",
    "jobs.workneed": "what a kind of work needs",
}
#: columns that name a row, the first that an entry has
NAMED_BY = (("street", "town"), ("one", "other"), ("name",), ("title",), ("tag",), ("label",))
#: columns that tell of whom a row is
OF_WHOM = ("person_id", "user_id")


@dataclass(frozen=True)
class Subject:
    """Some kinds of rows; `is_rest` stands for all that no other subject names."""

    word: str
    labels: frozenset[str]
    is_rest: bool = False

    def holds(self, label: str) -> bool:
        return (label in self.labels) != self.is_rest

    def of_acts(self) -> Q:
        named = Q(subject_type__in=sorted(self.labels))
        return ~named if self.is_rest else named


HOUSES = frozenset(
    {
        "jobs.customer",
        "jobs.sitetenure",
        "equipment.site",
        "equipment.specialuse",
        "equipment.well",
        "equipment.train",
        "equipment.stage",
    }
)
PEOPLE = frozenset(
    {
        "auth.user",
        "jobs.staffprofile",
        "jobs.skill",
        "jobs.workhours",
        "jobs.absence",
        "jobs.phone",
    }
)
COMPANY = frozenset(
    {
        "jobs.company",
        "jobs.companyday",
        "jobs.laboratoryday",
        "jobs.towndrive",
        "jobs.workneed",
        "jobs.followuprule",
        "jobs.checklisttemplate",
        "equipment.feedpump",
        "equipment.oxidantproduct",
        "equipment.vessel",
        "equipment.medium",
        "equipment.retentiontank",
        "equipment.resin",
    }
)
SUBJECTS: Mapping[str, Subject] = {
    "houses": Subject("customers, houses and systems", HOUSES),
    "people": Subject("people, roles, licences and absences", PEOPLE),
    "company": Subject("rules, checklists, catalog and the company", COMPANY),
    "work": Subject("visits, records, notices and mail", HOUSES | PEOPLE | COMPANY, is_rest=True),
}


def name_of(label: str, row: int, entry: Any, people: Mapping[int, str]) -> str:
    """The kind of a row, and its name where one is kept with the change."""
    kind = KINDS.get(label) or str(apps.get_model(label)._meta.verbose_name)
    if label == "auth.user":
        return people.get(row, f"{kind} {row}")
    if entry is None:
        return kind
    names = [_named(entry)]
    names += [people.get(getattr(entry, column, None) or 0, "") for column in OF_WHOM]
    said = ", ".join(name for name in names if name)
    return f"{kind} {said}" if said else kind


def _named(entry: Any) -> str:
    for columns in NAMED_BY:
        if all(hasattr(entry, column) for column in columns):
            return ", ".join(str(getattr(entry, column)) for column in columns)
    return ""
