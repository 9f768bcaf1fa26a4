"""Kinds that a record is made of; the tables take their choices from here."""

from __future__ import annotations

from enum import StrEnum


class LineKind(StrEnum):
    """How a line of a checklist is answered."""

    TICK = "tick"
    QUANTITY = "quantity"
    NUMBER = "number"
    CHOICE = "choice"
    TEXT = "text"
    TIMER = "timer"
    STEPS = "steps"


#: kinds that the page keeps by itself
KEPT_BY_PAGE = (LineKind.TIMER, LineKind.STEPS)


class Purpose(StrEnum):
    """What a record is kept for."""

    SURVEY = "survey"
    DISINFECT = "disinfect"
    STARTUP = "startup"
    RECHECK = "recheck"


class Look(StrEnum):
    """What a glass of water looks like, held against something dark."""

    CLEAR = "clear"
    FEW = "few"
    MILKY = "milky"
    NOT_LOOKED = "not_looked"


LOOK_WORDS = {
    Look.CLEAR: "clear",
    Look.FEW: "a few bubbles",
    Look.MILKY: "milky",
    Look.NOT_LOOKED: "not looked",
}


class NoticeLevel(StrEnum):
    """How far water must be left alone."""

    NO_USE = "no_use"
    NO_DRINKING = "no_drinking"
    SAMPLE_PENDING = "sample_pending"


NOTICE_TITLES = {
    NoticeLevel.NO_USE: "Do not use the water",
    NoticeLevel.NO_DRINKING: "Do not drink the water",
    NoticeLevel.SAMPLE_PENDING: "Sample pending",
}
