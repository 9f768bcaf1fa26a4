"""Which class of raw water a house is in: one table of rules.

The newest raw figures of a house decide; nobody chooses a class. The rules are tried in order, and
the first that holds names the class. Limits are common practice, no source.
"""

from __future__ import annotations

import operator
from collections.abc import Mapping
from dataclasses import dataclass

#: raw water above and below which the work is harder
SULFIDE_MG_L, LOW_PH = 3.0, 6.5
USUAL, UNTESTED = "usual", "untested"


@dataclass(frozen=True)
class Rule:
    """Water is of this class where the figure lies beyond the limit."""

    name: str
    figure: str
    sign: str
    limit: float
    words: str


RULES = (
    Rule("sulfide", "sulfide", ">", SULFIDE_MG_L, f"sulfide above {SULFIDE_MG_L:g} mg/L"),
    Rule("low_ph", "ph", "<", LOW_PH, f"pH below {LOW_PH:g}"),
)
#: raw readings that a class is made of
FIGURES = tuple(dict.fromkeys(rule.figure for rule in RULES))
WATERS = {
    **{rule.name: rule.words for rule in RULES},
    USUAL: "neither",
    UNTESTED: "raw water not tested",
}


BEYOND = {">": operator.gt, "<": operator.lt}


def class_of(figures: Mapping[str, float | None]) -> str:
    """The class that the figures of FIGURES give."""
    if all(figures.get(name) is None for name in FIGURES):
        return UNTESTED
    for rule in RULES:
        figure = figures.get(rule.figure)
        if figure is not None and BEYOND[rule.sign](figure, rule.limit):
            return rule.name
    return USUAL
