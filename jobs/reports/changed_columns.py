"""Which columns an entry of a history changed, in words."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.contrib.auth.models import User
from django.db import models

from jobs.wording.names import capital, person

NOT_SHOWN = {"id", "version", "phone_digits", "address_key", "one_key", "other_key"}

#: what a column is called, what stood there before, what stands there since
Column = tuple[str, str, str]


@dataclass(frozen=True)
class Names:
    """How rows are called that a column points to."""

    people: Mapping[int, str] = field(default_factory=dict)
    rows: Mapping[tuple[type[models.Model], int], str] = field(default_factory=dict)

    def of(self, model: type[models.Model], pk: int) -> str:
        if model is User:
            return self.people.get(pk, str(pk))
        return self.rows.get((model, pk), str(pk))


def names_for(pairs: Iterable[tuple[Any, Any]]) -> Names:
    """Of the people, and of the rows that a changed column pointed to or points to."""
    wanted: dict[type[models.Model], set[int]] = {}
    for entry, before in pairs:
        for column, old, new in _changed(entry, before):
            if column.is_relation:
                known = wanted.setdefault(_pointed(column), set())
                known.update(pk for pk in (old, new) if pk is not None)
    wanted.pop(User, None)
    rows = {
        (model, pk): str(row)
        for model, pks in wanted.items()
        for pk, row in model._default_manager.in_bulk(pks).items()
    }
    return Names({user.pk: person(user) for user in User.objects.all()}, rows)


def columns(
    entry: Any, before: Any, names: Names | None = None, *, only: Collection[str] = ()
) -> tuple[Column, ...]:
    """What differs; nothing for the first entry of a row. `only` keeps to some columns."""
    known = names or Names()
    return tuple(
        (capital(str(column.verbose_name)), _shown(column, old, known), _shown(column, new, known))
        for column, old, new in _changed(entry, before)
        if not only or column.name in only
    )


def _changed(entry: Any, before: Any) -> Iterable[tuple[Any, Any, Any]]:
    if entry is None or before is None or entry.history_type == "-":
        return
    for column in entry.instance_type._meta.concrete_fields:
        if column.name in NOT_SHOWN:
            continue
        old, new = getattr(before, column.attname), getattr(entry, column.attname)
        if old != new:
            yield column, old, new


def _pointed(column: Any) -> type[models.Model]:
    found: type[models.Model] = column.related_model
    return found


def _shown(column: Any, value: object, names: Names) -> str:
    if value is None or value == "":
        return "empty"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict | list):
        return json.dumps(value)
    if column.is_relation and isinstance(value, int):
        return names.of(_pointed(column), value)
    if column.choices:
        return str(dict(column.flatchoices).get(value, value))
    return str(value)
