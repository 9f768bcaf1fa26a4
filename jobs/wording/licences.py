"""How the end of a licence is said."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from .days import counted, days_from

ENDED, SOON, GOOD, NO_END, OUT_OF_USE = "ended", "soon", "good", "no_end", "out"
#: in the order in which they are looked at
STATES = (ENDED, SOON, GOOD, NO_END, OUT_OF_USE)
TO_RENEW = (ENDED, SOON)
COMPANY_ITSELF = "the company"


@dataclass(frozen=True)
class Standing:
    """How a licence stands on a day: one of STATES, and days until its end."""

    key: str
    days: int | None = None
    when: str = ""

    @property
    def said(self) -> str:
        """ended 12 days ago; ends in 21 days; good; no end day; out of use"""
        if self.key == ENDED:
            return f"ended {self.when}"
        return f"ends {self.when}" if self.key == SOON else state_words(self.key)


def standing(
    expires_on: date | None, withdrawn_on: date | None, *, on: date, lead_days: int
) -> Standing:
    """It holds on its last day still."""
    if withdrawn_on:
        return Standing(OUT_OF_USE)
    if expires_on is None:
        return Standing(NO_END)
    days, when = (expires_on - on).days, days_from(expires_on, on)
    if days < 0:
        return Standing(ENDED, days, when)
    return Standing(SOON if days <= lead_days else GOOD, days, when)


def state_words(key: str, lead_days: int = 0) -> str:
    """Of a part of the list."""
    return {
        ENDED: "ended",
        SOON: f"ends within {counted(lead_days)}",
        GOOD: "good",
        NO_END: "no end day",
        OUT_OF_USE: "out of use",
    }[key]
