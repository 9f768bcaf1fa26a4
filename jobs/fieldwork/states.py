"""States of a line, and when a reading of the dial-back proves something."""

from __future__ import annotations

from equipment.engineering.oxidant.readings import SETTLED_TURNOVERS

from .facts import Step

OPEN, ANSWERED, PASSED, FAILED = "open", "answered", "passed", "failed"
SKIPPED, OVERRIDDEN, LOOK_TWICE = "skipped", "overridden", "look-twice"
#: readings after fewer turnovers are early and prove nothing
TURNOVERS_NEEDED = SETTLED_TURNOVERS
#: a wait read to the last digit of a float is not early
ROUNDING = 1e-9


def counts(step: Step) -> bool:
    """A reading that proves something: after three turnovers, by a kit that is not in doubt."""
    return (
        step.read_at is not None
        and step.residual_low_mg_l is not None
        and not step.doubt
        and (step.turnovers or 0) >= TURNOVERS_NEEDED - ROUNDING
    )
