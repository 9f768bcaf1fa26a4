"""Where the brine of a softener may go, by the state of the house.

What a state says, as it was read; a state without a row here may have a rule all the same, and the
county may ask for more: then the page says to ask.

The list is published law and stands here once, each row with its source: what passes must rest on
something that was read, and a phone without signal asks it too. What a company knows besides, of
its county or of a state that is not here, it writes below the question: the hint of that line, on
the page of its checklist, laid over every newer version. Whoever knows better at one house passes
the line over by name and reason.
"""

from __future__ import annotations

from dataclasses import dataclass

SEPTIC = "septic"
ASK = "Ask the county before septic system or ground."


@dataclass(frozen=True)
class StateRule:
    """One state: what it says of septic systems, where that stands, whether it bars them."""

    state: str
    said: str
    source: str
    bars_septic: bool = False

    @property
    def row(self) -> str:
        return f"{self.state}: {self.said} ({self.source})."


RULES = (
    StateRule(
        "Massachusetts",
        "brine of a softener must not go into a septic system",
        "MassDEP, Title 5",
        bars_septic=True,
    ),
    StateRule(
        "Texas",
        "into a septic system only where regeneration is started by a meter, not by a clock",
        "30 TAC 285.37",
    ),
)
NAMES = {"ma": "massachusetts", "tx": "texas"}


def rule_of(region: str) -> StateRule | None:
    """By the name of the state or its two letters."""
    word = region.strip().lower().rstrip(".")
    named = NAMES.get(word, word)
    return next((rule for rule in RULES if rule.state.lower() == named), None)


def row_for(region: str) -> str:
    """What the page says beside the question."""
    if rule := rule_of(region):
        return f"{rule.row} The county may ask for more."
    if region.strip():
        return f"{region.strip()}: no rule is on file here. {ASK}"
    return f"The state of this house is not on file. {ASK}"
