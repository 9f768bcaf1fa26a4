"""Which class of raw water a house is in: one table of rules, for queries and for plain SQL.

The newest raw figures of a house decide; nobody chooses a class. The rules are tried in order, and
the first that holds names the class. Limits are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import Case, Subquery, Value, When
from django.db.models.functions import Coalesce
from django.db.models.lookups import GreaterThan, IsNull, LessThan

#: raw water above and below which the work is harder
SULFIDE_MG_L, LOW_PH = 3.0, 6.5
USUAL, UNTESTED = "usual", "untested"
LOOKUPS = {">": GreaterThan, "<": LessThan}


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


def class_case(figures: Mapping[str, Subquery]) -> Case:
    """The class for a query; `figures` are the expressions of FIGURES by name."""
    rules = [
        When(LOOKUPS[rule.sign](figures[rule.figure], Value(rule.limit)), then=Value(rule.name))
        for rule in RULES
    ]
    is_unknown = IsNull(Coalesce(*(figures[name] for name in FIGURES)), True)
    return Case(*rules, When(is_unknown, then=Value(UNTESTED)), default=Value(USUAL))


def class_sql() -> str:
    """The same as plain SQL over columns named like the figures."""
    rules = " ".join(
        f"WHEN {rule.figure} {rule.sign} {rule.limit} THEN '{rule.name}'" for rule in RULES
    )
    unknown = " AND ".join(f"{figure} IS NULL" for figure in FIGURES)
    return f"CASE {rules} WHEN {unknown} THEN '{UNTESTED}' ELSE '{USUAL}' END"
