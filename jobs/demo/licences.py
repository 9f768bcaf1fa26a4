"""Licences of the demo: the company's own, one renewed after its end, one whose end was wrong."""

from __future__ import annotations

from jobs.models import Skill
from jobs.workflows.licences import correct_licence, enter_licence, renew_licence

from .cast import OFFICE_HOUR, Told, World


def licence_entered(world: World, act: Told) -> None:
    """Of the company itself."""
    enter_licence(
        person=None,
        name=act["name"],
        number=act["number"],
        expires_on=world.calendar.day(act["expires"]),
        by=world.owner,
        now=world.calendar.moment(act["day"], OFFICE_HOUR),
    )


def _of(world: World, act: Told) -> Skill:
    return Skill.objects.get(person=world.people[act["who"]], name=act["name"])


def licence_renewed(world: World, act: Told) -> None:
    renew_licence(
        licence=_of(world, act),
        expires_on=world.calendar.day(act["expires"]),
        number=act["number"],
        by=world.owner,
        now=world.calendar.moment(act["day"], OFFICE_HOUR),
    )


def licence_corrected(world: World, act: Told) -> None:
    """What was booked by the wrong end stays booked."""
    licence = _of(world, act)
    correct_licence(
        licence=licence,
        expires_on=world.calendar.day(act["expires"]),
        number=licence.number,
        reason=act["note"],
        by=world.owner,
        now=world.calendar.moment(act["day"], OFFICE_HOUR),
    )
