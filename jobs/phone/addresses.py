"""The tag `url` where no views are: addresses are written down when the phone's part is built."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django.template import Library

#: pattern with its names, and the names in their order
Address = Sequence[object]


def library(addresses: Mapping[str, Address]) -> Library:
    made = Library()

    @made.simple_tag
    def url(name: str, *arguments: object) -> str:
        pattern, names = addresses[name]
        assert isinstance(names, list)
        return str(pattern) % dict(zip(names, arguments, strict=True))

    return made
