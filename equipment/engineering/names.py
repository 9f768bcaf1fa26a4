"""Names of oxidants, parts and places as the whole house spells them; models add their labels."""

from __future__ import annotations

from enum import StrEnum


class Oxidant(StrEnum):
    """What is fed ahead of a filter."""

    PEROXIDE = "peroxide"
    CHLORINE = "chlorine"
    PERMANGANATE = "permanganate"


class PartKind(StrEnum):
    """What a part of a treatment train is."""

    FEEDER = "feeder"
    RETENTION = "retention"
    FILTER = "filter"
    SOFTENER = "softener"
    NEUTRALIZER = "neutralizer"
    SEDIMENT = "sediment"
    CARTRIDGE = "cartridge"
    UV = "uv"
    AERATION = "aeration"


class Side(StrEnum):
    """Where something joins the pipe, seen from the pressure tank."""

    BEFORE = "before"
    AFTER = "after"


class Switching(StrEnum):
    """What switches the dosing pump on and off."""

    SWITCH_LOAD = "switch_load"
    CURRENT_RELAY = "current_relay"
    DRIVE_CONTACT = "drive_contact"
    FLOW_SWITCH = "flow_switch"
    METERED = "metered"
    ALWAYS_LIVE = "always_live"


class PumpHead(StrEnum):
    """By which figures a dosing pump is set."""

    VARIABLE = "variable"
    TIMER = "timer"
    STROKE = "stroke"
    METERED = "metered"


class ToldBy(StrEnum):
    """How an adult of a house was told; a voice mail or a note at the door is no such way."""

    TELEPHONE = "telephone"
    DOOR = "door"


TOLD_WORDS = {ToldBy.TELEPHONE: "by telephone", ToldBy.DOOR: "at the house"}


def way_said(how: str, number: str) -> str:
    """By which way somebody was told, with the number called; "" where it was not noted."""
    return " ".join(filter(None, (TOLD_WORDS[ToldBy(how)] if how else "", number)))
