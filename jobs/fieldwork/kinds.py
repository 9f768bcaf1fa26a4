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
    #: one word for each cycle run, pressed one after the other
    CYCLES = "cycles"


#: kinds that the page keeps by itself
KEPT_BY_PAGE = (LineKind.TIMER, LineKind.STEPS)


class Purpose(StrEnum):
    """What a record is kept for."""

    SURVEY = "survey"
    DISINFECT = "disinfect"
    STARTUP = "startup"
    RECHECK = "recheck"


class Source(StrEnum):
    """How the water stands that the house draws from."""

    BORE = "bore"
    OPEN = "open"


#: kinds of a source that hold their water in a box or tank; all others are bores
OPEN_KINDS = ("spring", "cistern")


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


class NoticeCause(StrEnum):
    """Why water must be left alone; it decides what lifts the notice."""

    COLIFORM = "coliform"
    ECOLI = "ecoli"
    FLOOD = "flood"
    OPENED = "opened"
    SUSPECTED = "suspected"
    DISINFECTED = "disinfected"
    OXIDANT = "oxidant"
    OTHER = "other"


#: what no reading of chlorine ends: water that must not be used for it must not be drunk either
NEEDS_SAMPLES = (
    NoticeCause.COLIFORM,
    NoticeCause.ECOLI,
    NoticeCause.FLOOD,
    NoticeCause.OPENED,
    NoticeCause.SUSPECTED,
)


class LiftedOn(StrEnum):
    """What ends a notice: evidence of its own cause."""

    #: bacteria samples, judged
    SAMPLES = "samples"
    #: the oxidant read at the taps
    READINGS = "readings"
    #: what was found out, said in words
    WORDS = "words"


def lifted_on(level: str, cause: str) -> LiftedOn:
    """The one rule of what ends a notice; evidence of another cause never does.

    A negative bacteria sample says nothing about fuel, nitrate or an oxidant.
    """
    if level == NoticeLevel.SAMPLE_PENDING:
        return LiftedOn.SAMPLES
    if cause == NoticeCause.OTHER:
        return LiftedOn.WORDS
    if level == NoticeLevel.NO_USE or cause == NoticeCause.OXIDANT:
        return LiftedOn.READINGS
    return LiftedOn.SAMPLES


CAUSE_WORDS = {
    NoticeCause.COLIFORM: "coliform bacteria found",
    NoticeCause.ECOLI: "E. coli found",
    NoticeCause.FLOOD: "the well was flooded",
    NoticeCause.OPENED: "the well was opened or worked on",
    NoticeCause.SUSPECTED: "bacteria may have got in",
    NoticeCause.DISINFECTED: "disinfected, sample to come",
    NoticeCause.OXIDANT: "chlorine or another oxidant in the pipes",
    NoticeCause.OTHER: "something else",
}


NOTICE_TITLES = {
    NoticeLevel.NO_USE: "Do not use the water",
    NoticeLevel.NO_DRINKING: "Do not drink the water",
    NoticeLevel.SAMPLE_PENDING: "Sample pending",
}
#: the title of "do not drink" at a house whose treatment keeps the bacteria from its taps
HELD_TITLE = "Held by treatment"


def notice_title(level: str, *, is_held: bool) -> str:
    """Where it is not known that treatment holds it, it holds nothing."""
    return HELD_TITLE if is_held else NOTICE_TITLES[NoticeLevel(level)]


class RaisedBy(StrEnum):
    """What brings "do not drink" back to a house where treatment held it."""

    POWER = "power"
    BYPASS = "bypass"
    ALARM = "alarm"
    OFF = "off"
    PARTS = "parts"
    FOUND = "found"
    GRAVER = "graver"
    OTHER = "other"


RAISED_WORDS = {
    RaisedBy.POWER: "the power was off",
    RaisedBy.BYPASS: "the system was bypassed",
    RaisedBy.ALARM: "its alarm went",
    RaisedBy.OFF: "the dosing pump was left off",
    RaisedBy.PARTS: "a part of the treatment was taken out or replaced",
    RaisedBy.FOUND: "bacteria were found after the treatment",
    RaisedBy.GRAVER: "something graver was found in the well",
    RaisedBy.OTHER: "something else",
}

#: how a dosing pump was found when it was checked
FEEDER_CHECK_WORDS = {"sound": "nothing wrong found", "mended": "something put right"}
