"""Facts to JSON and back, by their own type hints."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from datetime import date, datetime, tzinfo
from functools import cache
from types import UnionType
from typing import Any, cast, get_args, get_origin, get_type_hints

from jobs.errors import WrongState

from .facts import NUMBER, Facts

Reader = Callable[[Any], Any]


def to_json(facts: Facts, zone: tzinfo | None = None) -> str:
    """One line of JSON, the same for the same facts.

    With a zone every moment is said in it: who has no list of zones then needs none.
    """
    return json.dumps(_plain(facts, zone), ensure_ascii=False, separators=(",", ":"))


def from_json(text: str) -> Facts:
    """The facts a line of JSON says; fields it does not know are passed over.

    Raises WrongState where the facts have another number than this reader, or lack what it needs:
    a limit read as no limit would pass what must not pass.
    """
    return from_said(json.loads(text))


def from_said(said: Mapping[str, Any]) -> Facts:
    """The same of a line that was taken apart already."""
    number = said.get("number")
    if number != NUMBER:
        raise WrongState(
            f"This record has the form {number}, and what reads it knows the form {NUMBER}: "
            "bring both up to date and fetch the record again. Nothing was read of it."
        )
    try:
        return cast(Facts, _reader(Facts)(said))
    except (KeyError, TypeError, ValueError) as error:
        raise WrongState(f"This record is not whole, fetch it again: {error}.") from error


def _plain(value: Any, zone: tzinfo | None) -> Any:
    if is_dataclass(value):
        return {each.name: _plain(getattr(value, each.name), zone) for each in fields(value)}
    if isinstance(value, datetime):
        return (value.astimezone(zone) if zone else value).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple | list):
        return [_plain(each, zone) for each in value]
    if isinstance(value, Mapping):
        return {key: _plain(each, zone) for key, each in value.items()}
    return value


@cache
def _reader(hint: Any) -> Reader:
    """What makes a value of that type out of what JSON holds."""
    if is_dataclass(hint):
        return _dataclass_reader(cast(type, hint))
    if hint is datetime:
        return datetime.fromisoformat
    if hint is date:
        return date.fromisoformat
    if hint is float:
        return float
    if isinstance(hint, UnionType):
        inner = _reader(next(part for part in get_args(hint) if part is not type(None)))
        return lambda value: None if value is None else inner(value)
    if get_origin(hint) is tuple:
        return _tuple_reader(get_args(hint))
    if get_origin(hint) is Mapping and get_args(hint)[1] is float:
        return lambda value: {key: float(each) for key, each in value.items()}
    return lambda value: value


def _tuple_reader(parts: tuple[Any, ...]) -> Reader:
    if parts[-1] is ...:
        one = _reader(parts[0])
        return lambda value: tuple(one(each) for each in value)
    readers = [_reader(part) for part in parts]
    return lambda value: tuple(read(each) for read, each in zip(readers, value, strict=True))


def _dataclass_reader(kind: type) -> Reader:
    hints = get_type_hints(kind)
    readers = {each.name: _reader(hints[each.name]) for each in fields(kind)}

    def read(value: Mapping[str, Any]) -> Any:
        known = {name: reader(value[name]) for name, reader in readers.items() if name in value}
        return kind(**known)

    return read
